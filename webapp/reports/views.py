from __future__ import annotations

import uuid
from datetime import datetime, timedelta
from zoneinfo import ZoneInfo

from flask import Blueprint, current_app, render_template, request

from webapp.access import needs
from webapp.db import reading
from webapp.problem import Problem
from webapp.reports import desk, sequence

blueprint = Blueprint("reports", __name__, template_folder="templates")


@blueprint.get("/desk/reports")
@needs("look")
def newest() -> str:
    """Show arrived reports, newest first; `before` continues further back."""
    before = _cursor(request.args.get("before"))
    with reading() as session:
        page = desk.page(session, before)
        doubts = sequence.doubts(session)
    return render_template(
        "reports.html",
        page=page,
        before=before,
        doubts=doubts,
        zone=current_app.config["DESK_ZONE"],
        alone=False,
    )


@blueprint.get("/desk/reports/<uuid:name>")
@needs("look")
def single(name: uuid.UUID) -> str:
    """Show one report by its id, for links from its corrections."""
    with reading() as session:
        page = desk.one(session, name)
    if not page.reports:
        raise Problem(404, "no_such_report", "No report with this id has arrived.")
    zone = current_app.config["DESK_ZONE"]
    return render_template(
        "reports.html", page=page, before=None, doubts=[], zone=zone, alone=True
    )


def _cursor(text: str | None) -> desk.Cursor | None:
    if text is None:
        return None
    try:
        return desk.Cursor.read(text)
    except (ValueError, OverflowError) as error:
        raise Problem(
            422, "bad_cursor", "This address is incomplete. Open /desk/reports anew."
        ) from error


@blueprint.app_template_filter("clock")
def clock(moment: datetime) -> str:
    """Write a time for a person, in the zone that the page names."""
    zone = ZoneInfo(current_app.config["DESK_ZONE"])
    try:
        return moment.astimezone(zone).strftime("%a %d %b %Y %H:%M:%S")
    except OverflowError:  # the last hours of year 9999 are over in the east
        return moment.isoformat(" ", "seconds")


@blueprint.app_template_filter("duration")
def duration(length: timedelta) -> str:
    """Write a length of time for a person, without sign and with two units at most."""
    seconds = round(abs(length.total_seconds()))
    days, rest = divmod(seconds, 86_400)
    hours, rest = divmod(rest, 3600)
    minutes, seconds = divmod(rest, 60)
    parts = [(days, "d"), (hours, "h"), (minutes, "min"), (seconds, "s")]
    shown = [f"{count} {unit}" for count, unit in parts if count]
    return " ".join(shown[:2]) or "0 s"
