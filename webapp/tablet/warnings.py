"""What tablets are told of warnings: all that is in force, whole each time.

What is whole cannot be skipped. Builds of the app from before ask for changes instead: they
hear that there is none, or that they must take the whole.
"""

from __future__ import annotations

import dataclasses
import hashlib
import json
from datetime import UTC, datetime
from typing import Any

from flask import Response, jsonify, request

from webapp.records import tablets
from webapp.records.warnings import feed as feed_
from webapp.records.warnings import schemas
from webapp.store.db import reading
from webapp.web import tablet_cookie
from webapp.web.api import Blueprint
from webapp.web.problem import Problem
from webapp.web.stored import REVALIDATE

blueprint = Blueprint("warnings", __name__, description="What tablets are warned of.")


@blueprint.get("/api/warnings")
@blueprint.takes(schemas.FeedIn, location="query")
@blueprint.also(200, schemas.FeedOut, "All that is in force")
@blueprint.also(304, None, "Nothing changed")
@blueprint.refuses(410, "Changes are not given: take the whole with since=0")
def feed(asked: dict[str, Any]) -> Response:
    """Give all that is in force with `since=0`; else only whether that number stands."""
    held = feed_.State(asked["since"] or asked["held"], asked["mark"], asked["epoch"])
    with reading() as session:
        tablet = tablets.known(session, tablet_cookie.token())
        trusted = tablet is not None and tablet.valid
        here = feed_.state(session)
        past = feed_.is_past(session, held, here)
        if asked["since"]:
            return _to_an_older_app(held, here, past)
        items: list[dict[str, Any]] = []
        if not request.if_none_match.contains(_tag(here, trusted)):
            here, items = feed_.whole(session)
    told = items if trusted else [_of_the_rail_alone(one) for one in items]
    response = _page(here, told, restored=not past)
    response.set_etag(_tag(here, trusted))
    response.make_conditional(request)
    return response


def _page(here: feed_.State, items: list[dict[str, Any]], *, restored: bool) -> Response:
    said = {**dataclasses.asdict(here), "items": items, "restored": restored, "more": False}
    response = jsonify(**said, server_time=datetime.now(UTC))
    response.headers["Cache-Control"] = REVALIDATE
    response.vary.add("Cookie")
    return response


def _of_the_rail_alone(item: dict[str, Any]) -> dict[str, Any]:
    """Leave out who told the depot, and under which entry: that is for its own tablets."""
    return {name: item[name] for name in item if name not in {"told_by", "reference"}}


def _tag(here: feed_.State, trusted: bool) -> str:
    """Name what is told in this state; the depot's clock and `restored` are not content."""
    text = json.dumps([*dataclasses.astuple(here), trusted])
    return hashlib.sha256(text.encode()).hexdigest()


def _to_an_older_app(held: feed_.State, here: feed_.State, past: bool) -> Response:
    """Say that nothing is newer than its number, or that it must take the whole."""
    if not past:
        reason = "This depot was put back to an older state since. Ask again with since=0."
        raise Problem(410, "restored", reason)
    if held.feed_no != here.feed_no:
        raise Problem(410, "full_refresh", "Warnings changed. Ask again with since=0.")
    return _page(here, [], restored=False)
