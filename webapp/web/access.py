"""Who may open a desk page: log-in, need of each page, CSRF, cookie.

Everything under /desk and /api/desk is shut unless its view says whom it is for: a page
somebody forgot to mark answers nobody.
"""

from __future__ import annotations

import secrets
from collections.abc import Callable
from datetime import UTC, datetime
from typing import Any, TypeVar

from flask import Flask, current_app, redirect, request, url_for
from flask.sessions import SecureCookieSessionInterface
from flask_login import LoginManager, UserMixin, current_user
from flask_wtf.csrf import CSRFError, CSRFProtect
from werkzeug.wrappers import Response

from webapp.records.people import roles, sessions
from webapp.store.db import reading, writing
from webapp.web.problem import Problem

View = TypeVar("View", bound=Callable[..., Any])
ROOT = "/desk"
# For programs: 401 in place of the log-in page, and the mark in place of the form's token.
CALLS = "/api/desk/"
COOKIE, SECURE_COOKIE = "sih-desk", "__Host-sih-desk"
#: Sent by a page that looks by itself: nobody sits there, so the log-in idles on.
UNATTENDED = "X-Unattended"
SECRET_FILE = "demo-secret-key"

csrf = CSRFProtect()


class DeskUser(UserMixin):  # type: ignore[misc]
    """The person behind this request. The cookie holds the log-in's token, not the person."""

    def __init__(self, token: str, entered: sessions.Entered) -> None:
        self.token = token
        self.entered = entered

    def get_id(self) -> str:
        return self.token

    def may(self, need: roles.Need) -> bool:
        return roles.may(self.entered.role, self.entered.manages_people, need)


class Cookie(SecureCookieSessionInterface):
    """Plain name on loopback http, `__Host-` and Secure whenever https (R52's amendment)."""

    def get_cookie_name(self, app: Flask) -> str:
        return SECURE_COOKIE if request.is_secure else COOKIE

    def get_cookie_secure(self, app: Flask) -> bool:
        return request.is_secure


def needs(need: roles.Need) -> Callable[[View], View]:
    """Say whom a desk page is for."""

    def mark(view: View) -> View:
        view.need = need  # type: ignore[attr-defined]
        return view

    return mark


def open_to_all(view: View) -> View:
    """Let a desk page answer without log-in: the log-in itself, the style."""
    view.need = None  # type: ignore[attr-defined]
    return view


def who() -> str:
    """The name that goes into the audit."""
    return str(current_user.entered.login)


def me() -> sessions.Entered:
    entered: sessions.Entered = current_user.entered
    return entered


def attach(app: Flask) -> None:
    app.config.update(
        WTF_CSRF_CHECK_DEFAULT=False,  # `guard` calls it, for desk pages only
        WTF_CSRF_TIME_LIMIT=None,  # ends with the log-in
        # Our Referrer-Policy sends none; the Strict cookie and the token do that work.
        WTF_CSRF_SSL_STRICT=False,
        SESSION_COOKIE_HTTPONLY=True,
        SESSION_COOKIE_SAMESITE="Strict",
        SESSION_COOKIE_PATH="/",
    )
    app.session_interface = Cookie()
    if not app.config.get("SECRET_KEY"):
        app.config["SECRET_KEY"] = _demo_secret(app)
    csrf.init_app(app)
    manager = LoginManager(app)
    manager.session_protection = None  # the row on the server is what counts
    manager.user_loader(load)
    app.before_request(guard)
    app.context_processor(lambda: {"user": current_user, "roles": roles})


def load(token: str) -> DeskUser | None:
    now = datetime.now(UTC)
    with reading() as session:
        entered = sessions.find(session, token, now)
    if entered and entered.note_due and UNATTENDED not in request.headers:
        with writing() as session:
            sessions.note(session, token, now)
    return DeskUser(token, entered) if entered else None


def guard() -> Response | None:
    """Let a request for a desk page pass, send it to the log-in, or refuse it."""
    if not inside() or request.routing_exception is not None:
        return None
    need = getattr(current_app.view_functions[request.endpoint or ""], "need", "unmarked")
    if need is not None:
        answer = _check(need)
        if answer is not None:
            return answer
    if request.method not in {"GET", "HEAD", "OPTIONS"} and not _is_call():
        _check_token()
    return None


def inside() -> bool:
    return request.path == ROOT or request.path.startswith((ROOT + "/", CALLS))


def _is_call() -> bool:
    return request.path.startswith(CALLS)


def _check(need: Any) -> Response | None:
    if not current_user.is_authenticated:
        if request.method == "GET" and not _is_call():
            return redirect(url_for("people.log_in", next=request.full_path.rstrip("?")))
        raise Problem(
            401,
            "logged_out",
            "You are logged out. Log in in another tab, then send this again.",
        )
    if need == "unmarked" or not current_user.may(need):
        raise Problem(
            403, "not_allowed", "Your account does not have the right for this page."
        )
    if current_user.entered.must_change and need != "self":
        if _is_call():
            raise Problem(403, "password_due", "Change your password at /desk/password first.")
        return redirect(url_for("people.own_password"))
    return None


def _check_token() -> None:
    try:
        csrf.protect()
    except CSRFError as error:
        raise Problem(
            400,
            "form_expired",
            "This form is from before your log-in. Go back, load the page again and send it.",
        ) from error


def _demo_secret(app: Flask) -> str:
    """Keep one for the demo, so that a restart does not log everybody out."""
    path = app.config["DATA"] / SECRET_FILE
    try:
        return str(path.read_text("ascii"))
    except FileNotFoundError:
        secret = secrets.token_hex(32)
        path.touch(mode=0o600)
        path.write_text(secret, "ascii")
        return secret
