"""The application in process, over each store in turn, with a tablet that is enrolled."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest
from argon2 import PasswordHasher
from flask import Flask
from flask.testing import FlaskClient

from tests.support.migrated import lay_tables
from tests.support.reports import CHANGE, batch
from webapp import create_app
from webapp.commands import prepare
from webapp.records.people import passwords
from webapp.store.db import db

APP_FILES = {
    "index.html": '<!doctype html><link href="/app/__BUILD__/app.css">'
    '<script src="/app/__BUILD__/app.js"></script>',
    "sw.js": 'const BUILD = "__BUILD__"; const FILES = ["__PRECACHE__"];',
    "manifest.webmanifest": '{"icons": [{"src": "/app/__BUILD__/icons/i.svg"}]}',
    "app.css": "body { margin: 0; }\n" * 50,
    "app.js": 'import { look } from "./core/table.js";\nlook();\n',
    "core/table.js": "export const look = () => null;\n" + "// long\n" * 20,
    "icons/i.svg": "<svg xmlns='http://www.w3.org/2000/svg'/>",
}


@pytest.fixture(scope="session", autouse=True)
def quick_passwords() -> Iterator[None]:
    """Hash passwords with little work: what argon2 costs is not what these tests are about."""
    kept = passwords._hasher
    passwords._hasher = PasswordHasher(time_cost=1, memory_cost=64, parallelism=1)
    yield
    passwords._hasher = kept


@pytest.fixture
def static_root(tmp_path: Path) -> Path:
    """A small tablet app, so that these tests do not depend on the real one."""
    root = tmp_path / "static"
    for name, text in APP_FILES.items():
        (root / name).parent.mkdir(parents=True, exist_ok=True)
        (root / name).write_text(text)
    return root


@pytest.fixture
def make_app(tmp_path: Path, static_root: Path) -> Iterator[Callable[..., Flask]]:
    """Build an application with tables; arguments are settings."""
    apps = []

    def make(**config: Any) -> Flask:
        base = {"DATA": tmp_path / "data", "STATIC_ROOT": static_root, "DEMO": True}
        app = create_app({**base, **config})
        apps.append(app)
        # No test but one about it leaves a process of its own behind.
        app.extensions["start_builder"] = lambda _app: None
        lay_tables(app)
        prepare.migrate(app)
        return app

    yield make
    for app in apps:
        with app.app_context():
            db.engine.dispose()


@pytest.fixture
def app(make_app: Callable[..., Flask], database_url: str | None) -> Flask:
    """The demo application on SQLite and on PostgreSQL."""
    return make_app(DATABASE_URL=database_url)


@pytest.fixture
def lone_app(make_app: Callable[..., Flask]) -> Flask:
    """The demo application on SQLite only, for what has nothing to do with the store."""
    return make_app()


@pytest.fixture
def tablet(app: Flask) -> FlaskClient:
    """A tablet that has opened the app and so holds its cookie."""
    client = app.test_client()
    assert client.get("/").status_code == 200
    return client


@pytest.fixture
def send(tablet: FlaskClient) -> Callable[..., list[dict[str, Any]]]:
    """Send items as the enrolled tablet and return the results."""

    def send_items(*items: Any, **envelope: Any) -> list[dict[str, Any]]:
        answer = tablet.post("/api/outbox", json=batch(*items, **envelope), headers=CHANGE)
        assert answer.status_code == 200, answer.text
        return list(answer.get_json()["results"])

    return send_items


@pytest.fixture
def rows(app: Flask) -> Callable[[str], list[tuple[Any, ...]]]:
    """Ask the database directly."""

    def ask(query: str) -> list[tuple[Any, ...]]:
        with app.app_context(), db.engine.connect() as connection:
            return [tuple(row) for row in connection.exec_driver_sql(query)]

    return ask
