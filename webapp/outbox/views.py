from __future__ import annotations

from datetime import UTC, datetime
from typing import Any

from flask import request

from webapp import config, tablet_cookie
from webapp.api import Blueprint
from webapp.db import writing
from webapp.outbox import schemas, service
from webapp.problem import Problem

blueprint = Blueprint("outbox", __name__, description="Tablets hand in what they hold.")


def limit_body() -> None:
    request.max_content_length = config.OUTBOX_BYTES


blueprint.before_request(limit_body)


@blueprint.post("/api/outbox")
@blueprint.takes(schemas.BatchIn)
@blueprint.answers(200, schemas.BatchOut)
def hand_in(batch: dict[str, Any]) -> dict[str, Any]:
    """Answer 200 with one result per item, and only after COMMIT has returned."""
    if len(batch["items"]) > schemas.MOST_ITEMS:
        raise Problem(
            413, "too_many_items", f"Send at most {schemas.MOST_ITEMS} items at once: halve."
        )
    now = datetime.now(UTC)
    with writing() as session:
        results = service.take_in(session, service.Batch(**batch), tablet_cookie.token(), now)
    return {"server_time": now, "results": results}
