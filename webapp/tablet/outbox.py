from __future__ import annotations

from datetime import UTC, datetime
from typing import Any

from flask import current_app, request

from webapp.plain import config
from webapp.plain.agreed import MOST_ITEMS
from webapp.records import not_enrolled as strangers
from webapp.records import outbox, outbox_schemas
from webapp.web import tablet_cookie
from webapp.web.api import Blueprint
from webapp.web.problem import Problem

blueprint = Blueprint("outbox", __name__, description="Tablets hand in what they hold.")


def limit_body() -> None:
    request.max_content_length = config.OUTBOX_BYTES


blueprint.before_request(limit_body)


@blueprint.post("/api/outbox")
@blueprint.takes(outbox_schemas.BatchIn)
@blueprint.answers(200, outbox_schemas.BatchOut)
@blueprint.refuses(429, "Not enrolled, and too much came from tablets that are not")
@blueprint.refuses(503, "Not enrolled, and the depot's disk is nearly full")
def hand_in(sent: dict[str, Any]) -> dict[str, Any]:
    """Answer 200 with one result per item, and only after COMMIT has returned."""
    if len(sent["items"]) > MOST_ITEMS:
        raise Problem(
            413,
            "too_many_items",
            f"Send at most {MOST_ITEMS} items at once: halve.",
        )
    now = datetime.now(UTC)
    low = strangers.low_disk(
        current_app.config["DATA"], int(current_app.config["FREE_DISK_MB"])
    )
    sender = outbox.Sender(tablet_cookie.token(), request.remote_addr or "", low)
    try:
        results = outbox.hand_in(outbox.Batch(**sent), sender, now)
    except strangers.TurnedAway as away:
        later = {"Retry-After": str(int(away.wait.total_seconds()) + 1)}
        raise Problem(away.status, away.code, away.detail, headers=later) from away
    return {"server_time": now, "results": results}
