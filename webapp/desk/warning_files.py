"""Files of warnings, for other programs."""

from __future__ import annotations

import uuid

from flask import Blueprint, Response, current_app, request

from webapp.lines import in_use
from webapp.records.warnings import exports, overview
from webapp.store.db import reading
from webapp.web.access import needs
from webapp.web.files import own_reading, sent
from webapp.web.problem import Problem

blueprint = Blueprint("warning_files", __name__)


@blueprint.get("/desk/warnings.csv")
@needs("look")
def as_csv() -> Response:
    """Give the warnings as CSV; `show` and `line` as on the list."""
    with reading() as session:
        names = exports.chosen(session, *_asked())
    rows = exports.as_csv(exports.lots(own_reading(), names))
    return sent(rows, "text/csv; charset=utf-8; header=present", "warnings.csv")


@blueprint.get("/desk/warnings.geojson")
@needs("look")
def as_geojson() -> Response:
    """Give the warnings as stretches of line on the map."""
    with reading() as session:
        names, bases = exports.chosen(session, *_asked()), in_use.bases(session)
    parts = exports.as_geojson(exports.lots(own_reading(), names), bases)
    return sent(parts, "application/geo+json", "warnings.geojson")


@blueprint.get("/desk/warnings/<uuid:warning_id>/cap.xml")
@needs("look")
def as_cap(warning_id: uuid.UUID) -> Response:
    """Give one told revision (`rev`, else the newest) as a CAP 1.2 message."""
    asked = request.args.get("rev")
    if asked is not None and not (asked.isascii() and asked.isdigit() and len(asked) < 10):
        raise Problem(422, "bad_rev", "Give the revision as a whole number.")
    try:
        with reading() as session:
            rev = None if asked is None else int(asked)
            training = bool(current_app.config["DEMO"])
            content = exports.as_cap(session, warning_id, rev, training=training)
    except exports.NoMessage as error:
        raise Problem(404, "no_message", str(error)) from error
    return _file(content, "application/cap+xml", f"warning-{warning_id}.xml")


def _asked() -> tuple[str | None, str | None]:
    show = request.args.get("show")
    if show is not None and show not in overview.STATUS:
        raise Problem(
            422, "bad_list", "This address is incomplete. Open /desk/warnings again."
        )
    return overview.STATUS.get(show or ""), request.args.get("line") or None


def _file(content: bytes, media_type: str, name: str) -> Response:
    response = Response(content, content_type=media_type)
    response.headers["Content-Disposition"] = f'attachment; filename="{name}"'
    return response
