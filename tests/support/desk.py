"""Accounts at the desk for tests, made and entered past the pages that make them."""

from __future__ import annotations

import re
import uuid
from datetime import UTC, datetime
from pathlib import Path

from flask import Flask
from flask.testing import FlaskClient
from sqlalchemy import select

from webapp import create_app
from webapp.records.people import service, sessions
from webapp.records.people.models import Person
from webapp.store.db import db, reading, writing

PASSWORD = "quiet brakes hold longer"


def account(
    app: Flask, login: str, role: str = "publish", *, manages: bool = False, own: bool = True
) -> uuid.UUID:
    """Make an account whose password is `PASSWORD`, unless it is there."""
    with app.app_context():
        with reading() as session:
            known = session.scalar(select(Person.id).where(Person.login == login))
        if known is not None:
            return known
        wanted = service.Wanted(login, role, manages)
        with writing() as session:
            return service.make(session, wanted, PASSWORD, "test", datetime.now(UTC), own=own)


def desk_client(app: Flask, role: str = "publish", *, manages: bool = False) -> FlaskClient:
    """A browser that is logged in at the desk with this role."""
    login = f"{role}{'-and-people' if manages else ''}"
    person = account(app, login, role, manages=manages)
    return entered(app, person)


def entered(app: Flask, person: uuid.UUID) -> FlaskClient:
    """A browser in which this person is logged in."""
    with app.app_context(), writing() as session:
        token = sessions.begin(session, person, datetime.now(UTC))
    client = app.test_client()
    with client.session_transaction() as kept:
        kept["_user_id"] = token
        kept["_fresh"] = True
    return client


def enter(client: FlaskClient, role: str = "look") -> FlaskClient:
    """Log this very browser in, keeping its other cookies."""
    person = account(client.application, role, role)
    with client.application.app_context(), writing() as session:
        token = sessions.begin(session, person, datetime.now(UTC))
    with client.session_transaction() as kept:
        kept["_user_id"] = token
        kept["_fresh"] = True
    return client


def desk_cookie(data: Path, role: str = "publish", *, manages: bool = False) -> str:
    """The cookie of a log-in at the demo server that runs on this data folder (SQLite)."""
    app = create_app({"DATA": data, "DEMO": True})
    client = desk_client(app, role, manages=manages)
    cookie = client.get_cookie("sih-desk")
    assert cookie is not None
    with app.app_context():
        db.engine.dispose()
    return cookie.value


def form_token(client: FlaskClient, path: str) -> str:
    """The CSRF token of a form page."""
    page = client.get(path).text
    found = re.search(r'name="csrf_token"[^>]*value="([^"]+)"', page)
    assert found, f"no form at {path}: {page[:300]}"
    return found[1]


def submit(client: FlaskClient, path: str, *, at: str | None = None, **fields: object):  # type: ignore[no-untyped-def]
    """Send a form as a browser does, with the token of the page it stands on."""
    data = {name: value for name, value in fields.items() if value is not None}
    data["csrf_token"] = form_token(client, at or path)
    return client.post(path, data=data, headers={"Accept": "text/html"})
