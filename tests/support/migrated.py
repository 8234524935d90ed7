"""Tables as this version has them, made once a process and copied for each test.

Nineteen migrations one after the other cost more than most tests. What a start does after
them (the depot's id, its mark) still happens in each test.
"""

from __future__ import annotations

import shutil
import tempfile
from pathlib import Path

import flask_migrate
from flask import Flask
from sqlalchemy import create_engine, inspect, text
from sqlalchemy.engine import URL, make_url

from webapp import create_app
from webapp.store.datafolder import IDENTITY
from webapp.store.db import db

_sqlite: list[Path] = []
_postgres: dict[str, str] = {}


def lay_tables(app: Flask) -> None:
    """Give an app whose folder and store are both new the tables that migrating would make."""
    data = Path(app.config["DATA"])
    if (data / IDENTITY).exists() or (data / "keys").exists():
        return
    url = make_url(str(app.config["SQLALCHEMY_DATABASE_URI"]))
    if url.get_backend_name() == "sqlite":
        _copy_file(Path(str(url.database)))
    elif _is_empty(url):
        _copy_database(url)


def _copy_file(target: Path) -> None:
    if target.exists() or not target.parent.is_dir():
        return
    if not _sqlite:
        folder = Path(tempfile.mkdtemp(prefix="step-in-hand-migrated-"))
        _migrate({"DATA": folder})
        _sqlite.append(folder / target.name)
    shutil.copyfile(_sqlite[0], target)
    target.chmod(_sqlite[0].stat().st_mode)


def _migrate(settings: dict[str, object]) -> None:
    app = create_app({**settings, "DEMO": True})
    with app.app_context():
        flask_migrate.upgrade()
        db.engine.dispose()


def _is_empty(url: URL) -> bool:
    engine = create_engine(url)
    try:
        return not inspect(engine).get_table_names()
    finally:
        engine.dispose()


def _copy_database(url: URL) -> None:
    admin = create_engine(url.set(database="postgres"), isolation_level="AUTOCOMMIT")
    server = f"{url.host}:{url.port}"
    try:
        if server not in _postgres:
            name = f"sih_migrated_{id(_postgres)}"
            with admin.connect() as connection:
                connection.execute(text(f"DROP DATABASE IF EXISTS {name}"))
                connection.execute(text(f"CREATE DATABASE {name}"))
            whole = url.set(database=name).render_as_string(hide_password=False)
            _migrate({"DATA": Path(tempfile.mkdtemp()), "DATABASE_URL": whole})
            _postgres[server] = name
        with admin.connect() as connection:
            connection.execute(text(f"DROP DATABASE {url.database} WITH (FORCE)"))
            connection.execute(
                text(f"CREATE DATABASE {url.database} TEMPLATE {_postgres[server]}")
            )
    finally:
        admin.dispose()
