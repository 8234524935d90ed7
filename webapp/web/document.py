"""The interface as an OpenAPI 3.1 document, made from the code and completed here once.

What every call shares (the mark, the error shape) is added to all of them, so that no room
can forget it; what only one call has stands beside its view.
"""

from __future__ import annotations

from http import HTTPStatus
from typing import Any

from flask import Flask
from flask_smorest import Api

from webapp.plain.agreed import MARK, PROTOCOL
from webapp.web.access import COOKIE, SECURE_COOKIE
from webapp.web.api import DESK
from webapp.web.problem import MEDIA_TYPE

VERBS = frozenset({"get", "post", "put", "patch", "delete"})
ADDRESS = "/api/openapi.json"
UNUSED = "PaginationMetadata"  # flask-smorest's own; no call of ours answers with it
MARK_SENT = {
    "name": MARK,
    "in": "header",
    "required": True,
    "schema": {"type": "string", "enum": [PROTOCOL]},
    "description": "The version of the sync protocol. A form of another site cannot send it.",
}
LOGGED_IN = {
    "type": "apiKey",
    "in": "cookie",
    "name": COOKIE,
    "description": f"A log-in at /desk/log-in; over https the cookie is {SECURE_COOKIE}.",
}
MARK_ANSWERED = {
    "required": True,
    "schema": {"type": "string", "enum": [PROTOCOL]},
    "description": "This answer is the depot's own, not that of a portal on the way.",
}


def serve(app: Flask, api: Api) -> None:
    """Complete the document and serve it."""
    document: dict[str, Any] = api.spec.to_dict()
    document["jsonSchemaDialect"] = "https://spec.openapis.org/oas/3.1/dialect/base"
    document["components"]["schemas"].pop(UNUSED, None)
    document["components"]["securitySchemes"] = {DESK: LOGGED_IN}
    document["paths"][ADDRESS] = {"get": _this_document()}
    for path in document["paths"].values():
        for verb in VERBS & set(path):
            _complete(path[verb], path.get("parameters", []))

    @app.get(ADDRESS)
    def openapi() -> dict[str, Any]:
        return document


def _this_document() -> dict[str, Any]:
    answer = {
        "description": "OpenAPI 3.1",
        "content": {"application/json": {"schema": {"type": "object"}}},
    }
    return {"summary": "This document.", "responses": {"200": answer}}


def _complete(operation: dict[str, Any], shared: list[Any]) -> None:
    """Add what every call has: the mark both ways, and the errors it may answer."""
    parameters = operation.setdefault("parameters", [])
    codes = {"400", "500", "503"}  # 400: a host name that is not ours
    if any(entry.get("in") == "path" for entry in [*shared, *parameters]):
        codes.add("404")
    if parameters or "requestBody" in operation:
        codes.add("422")
    if "requestBody" in operation:
        codes |= {"403", "413", "415"}
        parameters.append(MARK_SENT)
    responses = operation["responses"]
    for spare in ("default", "422"):
        responses.pop(spare, None)
    for code in sorted(codes):
        responses.setdefault(code, _problem(code))
    for code, answer in responses.items():
        answer.setdefault("headers", {})[MARK] = MARK_ANSWERED
        if int(code) >= 400:
            schema = {"$ref": "#/components/schemas/Problem"}
            answer["content"] = {MEDIA_TYPE: {"schema": schema}}


def _problem(code: str) -> dict[str, Any]:
    return {"description": f"{HTTPStatus(int(code)).phrase}, as a problem (RFC 9457)"}
