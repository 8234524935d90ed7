"""One error shape for everything: `application/problem+json` (RFC 9457) with our `code`."""

from __future__ import annotations

from datetime import timedelta
from http import HTTPStatus
from typing import Any

from flask import Flask, Response, current_app, render_template, request
from sqlalchemy.exc import DatabaseError, DBAPIError, OperationalError
from sqlalchemy.exc import TimeoutError as PoolTimeout
from werkzeug.exceptions import HTTPException, SecurityError, ServiceUnavailable

from webapp.store.datafolder import FolderTrouble
from webapp.store.db import is_full, trouble

MEDIA_TYPE = "application/problem+json"
FULL = (
    "The depot's disk is full. Nothing was kept; it is sent again later. At the depot: make "
    "room on the disk that holds the database."
)
INVALID = "Some fields cannot be taken; `errors` names each one and what to send."


class Problem(HTTPException):
    """An answer we give on purpose: status, a stable code, a sentence with the cure."""

    def __init__(
        self,
        status: int,
        code: str,
        detail: str,
        *,
        errors: dict[str, Any] | None = None,
        headers: dict[str, str] | None = None,
        more: dict[str, Any] | None = None,
    ) -> None:
        super().__init__(description=detail)
        self.code = status
        self.problem_code = code
        self.errors = errors
        self.extra_headers = headers or {}
        self.more = more or {}


def too_many(wait: timedelta | None) -> None:
    """Answer 429 when there is something to wait for."""
    if wait is not None:
        raise Problem(
            429,
            "too_many_tries",
            "Too many tries. Wait a minute.",
            headers={"Retry-After": str(int(wait.total_seconds()) + 1)},
        )


def problem_response(error: HTTPException) -> Response:
    """Turn any HTTP error, ours or the framework's, into the one shape."""
    status = HTTPStatus(error.code or 500)
    if _for_a_person():
        return _page(error, status)
    body: dict[str, Any] = {
        "type": "about:blank",
        "title": status.phrase,
        "status": status.value,
        "detail": _detail(error, status),
        "code": getattr(error, "problem_code", status.name.lower()),
    }
    said_by_webargs = (getattr(error, "data", None) or {}).get("messages")
    errors = getattr(error, "errors", None) or said_by_webargs
    if errors:
        body["errors"] = errors
    body |= getattr(error, "more", {})
    response = current_app.response_class(
        current_app.json.dumps(body), status=status.value, content_type=MEDIA_TYPE
    )
    for name, value in error.get_headers():
        if name.lower() not in {"content-type", "content-length"}:
            response.headers[name] = value  # Allow, Retry-After, WWW-Authenticate
    response.headers.extend(getattr(error, "extra_headers", {}))
    response.headers["Cache-Control"] = "no-store"
    return response


def _for_a_person() -> bool:
    """Whether a page was asked for by a browser, not a call or file by a program."""
    for_programs = request.path.startswith(("/api/", "/app/", "/packs/"))
    return not for_programs and "text/html" in request.headers.get("Accept", "")


def _page(error: HTTPException, status: HTTPStatus) -> Response:
    at_desk = request.path.startswith("/desk")
    title, detail = status.phrase, _detail(error, status)
    if status == HTTPStatus.NOT_FOUND and not isinstance(error, Problem):
        title, detail = (
            "No page here",
            "There is no page at this address. Look at how it is written.",
        )
    text = render_template(
        "trouble.html" if at_desk else "lost.html", title=title, detail=detail
    )
    response = current_app.response_class(text, status=status.value)
    response.headers.extend(getattr(error, "extra_headers", {}))
    return response


def _detail(error: HTTPException, status: HTTPStatus) -> str:
    if status == HTTPStatus.UNPROCESSABLE_ENTITY and not isinstance(error, Problem):
        return INVALID
    return str(error.description or status.description)


def attach(app: Flask) -> None:
    app.register_error_handler(HTTPException, problem_response)
    app.register_error_handler(SecurityError, _bad_host)
    for error in (OperationalError, PoolTimeout):
        app.register_error_handler(error, _store_unavailable)
    app.register_error_handler(DatabaseError, _store_damaged)
    app.register_error_handler(FolderTrouble, folder_trouble)


def _bad_host(_error: SecurityError) -> Response:
    return problem_response(
        Problem(
            400,
            "bad_host",
            "This server is not asked for by this name. Use the depot's own address; its "
            "administrator names it in STEP_IN_HAND_PUBLIC_HOST.",
        )
    )


def folder_trouble(error: FolderTrouble) -> Response:
    """Acknowledge nothing: what is written now would be lost. The log says what to do."""
    current_app.logger.error("nothing is acknowledged: %s", error)
    return problem_response(
        Problem(
            503,
            "depot_in_trouble",
            "The depot's database is not as it was. Nothing was kept; send again later. The "
            "server's log says what to do.",
            headers={"Retry-After": "30"},
        )
    )


def _store_damaged(error: DatabaseError) -> Response:
    """SQLite has no class of its own for a damaged file; a statement's own fault stays one."""
    if type(error) is not DatabaseError:
        raise error
    return _store_unavailable(error)


def _store_unavailable(error: Exception) -> Response:
    full = isinstance(error, DBAPIError) and is_full(error)
    why = trouble(error) if isinstance(error, DBAPIError) else error
    what = "the disk is full" if full else "the database did not answer"
    current_app.logger.error("%s: %s", what, why)
    if full:
        return problem_response(Problem(503, "disk_full", FULL, headers={"Retry-After": "60"}))
    return problem_response(
        ServiceUnavailable(
            "The database did not answer. Nothing was kept; send again later.", retry_after=5
        )
    )
