from __future__ import annotations

import dataclasses
import hashlib
import json
from datetime import UTC, datetime, timedelta
from typing import Any

from flask import Response, current_app, jsonify, request

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
@blueprint.also(200, schemas.FeedOut, "What changed since that number")
@blueprint.also(304, None, "Nothing changed")
@blueprint.refuses(410, "No delta from there: take the whole with since=0")
def feed(asked: dict[str, Any]) -> Response:
    """Give the changes after `since`; with 0 all that is in force, in one answer."""
    now = datetime.now(UTC)
    keep = timedelta(days=int(current_app.config["TOMBSTONE_DAYS"]))
    try:
        with reading() as session:
            page = feed_.page(
                *(session, asked["since"], asked["mark"], now, keep),
                epoch=asked["epoch"],
                restored=asked["restored"] == "1",
            )
            tablet = tablets.known(session, tablet_cookie.token())
    except feed_.Refresh as reason:
        raise Problem(410, reason.code, f"{reason} Ask again with since=0.") from reason
    content = dataclasses.asdict(page)
    if tablet is None or not tablet.valid:
        # Who told the depot, and under which entry, is for the depot's own tablets.
        for item in content["items"]:
            item.pop("told_by", None)
            item.pop("reference", None)
    response = jsonify(**content, server_time=now)
    # The server's clock in the answer is not content.
    tag = json.dumps([asked["since"], content], sort_keys=True)
    response.set_etag(hashlib.sha256(tag.encode()).hexdigest())
    response.headers["Cache-Control"] = REVALIDATE
    response.vary.add("Cookie")
    response.make_conditional(request)
    return response
