from __future__ import annotations

from datetime import UTC, datetime
from typing import Any

import marshmallow as ma

from webapp.api import Blueprint
from webapp.fields import Strict, Text

blueprint = Blueprint("ops", __name__, description="Is the depot's server really there?")


class PingIn(Strict):
    n = Text(64, required=True)


class PingOut(ma.Schema):
    n = ma.fields.String(required=True)
    server_time = ma.fields.Raw(
        required=True, metadata={"type": "string", "format": "date-time"}
    )


@blueprint.get("/api/ping")
@blueprint.takes(PingIn, location="query")
@blueprint.answers(200, PingOut)
def ping(query: dict[str, Any]) -> dict[str, Any]:
    """Echo the nonce: a captive portal or a stale cache cannot."""
    return {"n": query["n"], "server_time": datetime.now(UTC)}
