from __future__ import annotations

import ipaddress
from datetime import UTC, datetime
from typing import Any

import marshmallow as ma
from flask import Blueprint as Pages
from flask import Flask, Response, current_app, jsonify, request

from webapp.ops import metrics, service
from webapp.plain.fields import Strict, Text
from webapp.web import logs
from webapp.web.api import Blueprint
from webapp.web.problem import Problem

blueprint = Blueprint("ops", __name__, description="Is the depot's server really there?")
pages = Pages("watch", __name__)
MORE = "trouble; the server's log says what to do"


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


@pages.get("/health")
def health() -> tuple[Response, int]:
    """Say which parts are well, to anybody; what is wrong with one only in the log."""
    checks: service.Checks = current_app.extensions["checks"]
    found = checks.health()
    for words in filter(None, vars(found).values()):
        current_app.logger.error("not well: %s", words)
    said = {part: MORE if words else service.OK for part, words in vars(found).items()}
    status = service.OK if found.well else "trouble"
    return jsonify(status=status, checks=said), 200 if found.well else 503


@pages.get("/metrics")
def figures() -> Response:
    """Give the figures to this machine, or the one other that a setting names."""
    if not _may_watch(request.remote_addr or ""):
        raise Problem(
            403,
            "not_for_you",
            "Figures are for the monitoring system. Name its address in "
            "STEP_IN_HAND_METRICS_FROM.",
        )
    meter: metrics.Meter = current_app.extensions["meter"]
    return Response(meter.text(), content_type=metrics.CONTENT_TYPE)


def _may_watch(address: str) -> bool:
    try:
        found = ipaddress.ip_address(address)
    except ValueError:
        return False
    return found.is_loopback or address == current_app.config.get("METRICS_FROM")


def attach(app: Flask) -> None:
    """Give the application its figures and its checks."""
    meter = app.extensions["meter"] = metrics.Meter()
    data, floor = app.config["DATA"], int(app.config["FREE_DISK_MB"])
    checks = service.Checks(data, floor, lambda: app.extensions["depot_key"].load())
    app.extensions["checks"] = checks
    meter.watch(checks.figures)

    @app.after_request
    def count(response: Response) -> Response:
        meter.answered(request.method, logs.rule(), response.status_code, logs.seconds())
        return response
