from __future__ import annotations

from datetime import UTC, datetime
from typing import Any

from flask import request

from webapp import config, tablet_cookie
from webapp.api import Blueprint
from webapp.outbox import idempotency, schemas, service
from webapp.problem import Problem

blueprint = Blueprint("outbox", __name__, description="Tablets hand in what they hold.")


def limit_body() -> None:
    request.max_content_length = config.OUTBOX_BYTES


blueprint.before_request(limit_body)


@blueprint.post("/api/outbox")
@blueprint.takes(schemas.BatchIn)
@blueprint.answers(200, schemas.BatchOut)
@blueprint.refuses(409, "A batch with this Idempotency-Key is being taken in")
@blueprint.takes_header(schemas.IDEMPOTENCY_KEY)
def hand_in(sent: dict[str, Any]) -> dict[str, Any]:
    """Answer 200 with one result per item, and only after COMMIT has returned."""
    if len(sent["items"]) > schemas.MOST_ITEMS:
        raise Problem(
            413, "too_many_items", f"Send at most {schemas.MOST_ITEMS} items at once: halve."
        )
    now, header = datetime.now(UTC), request.headers.get(idempotency.NAME)
    try:
        results = service.hand_in(service.Batch(**sent), tablet_cookie.token(), header, now)
    except idempotency.KeyTrouble as trouble:
        raise _problem(trouble) from trouble
    return {"server_time": now, "results": results}


def _problem(trouble: idempotency.KeyTrouble) -> Problem:
    later = {"Retry-After": str(idempotency.RETRY_AFTER_S)} if trouble.status == 409 else {}
    return Problem(trouble.status, trouble.code, trouble.detail, headers=later)
