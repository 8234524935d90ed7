"""The cookie that names a tablet, and the demo that gives itself one."""

from __future__ import annotations

from datetime import UTC, datetime

from flask import Flask, Response, current_app, request

from webapp.records import tablets
from webapp.store.db import reading, writing

NAME = "sih-tablet"
SECURE_NAME = "__Host-sih-tablet"
TWO_YEARS = 2 * 365 * 24 * 3600


def token() -> str | None:
    """Return the token this request carries. Over https only the `__Host-` name counts."""
    return request.cookies.get(SECURE_NAME if request.is_secure else NAME)


def give(response: Response, new_token: str) -> None:
    """Set the cookie. Plain name on loopback http: WebKit drops `__Host-` there."""
    response.set_cookie(
        SECURE_NAME if request.is_secure else NAME,
        new_token,
        max_age=TWO_YEARS,
        path="/",
        secure=request.is_secure,
        httponly=True,
        samesite="Strict",
    )


def attach(app: Flask) -> None:
    """In the demo a tablet enrols itself when it opens the app. Elsewhere nothing does."""

    @app.after_request
    def enrol_in_demo(response: Response) -> Response:
        opens_app = request.path == "/" and request.method == "GET"
        if current_app.config["DEMO"] and opens_app and response.status_code in {200, 304}:
            _enrol_unless_known(response)
        return response


def _enrol_unless_known(response: Response) -> None:
    with reading() as session:
        tablet = tablets.known(session, token())
    if tablet is None:
        with writing() as session:
            give(response, tablets.enrol(session, "demo tablet", datetime.now(UTC)))
