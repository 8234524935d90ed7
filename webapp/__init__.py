"""Step in Hand's server: `create_app()` builds one application; nothing is built on import."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from flask import Flask
from flask_migrate import Migrate
from jinja2 import StrictUndefined

from webapp import desk, ops, tablet
from webapp.pages import checks, guide, lessons
from webapp.plain import config as settings
from webapp.store import db as database
from webapp.web import api as http_api
from webapp.web import depot_guard, document, logs, problem, security

__version__ = "0.2.0"

ROOMS = (depot_guard, tablet, ops, desk, checks, lessons, guide)


def create_app(config: Mapping[str, Any] | None = None) -> Flask:
    """Build the application; `config` wins over the environment, see `webapp.plain.config`."""
    app = logs.Application(__name__, static_folder=None)
    app.config.from_mapping(settings.collect(config or {}))
    settings.refuse_unsafe(app.config)
    logs.attach(app)
    # A page that asks for a name which is not there is a fault, not an empty cell.
    app.jinja_env.undefined = StrictUndefined
    app.jinja_env.trim_blocks = app.jinja_env.lstrip_blocks = True
    app.json = http_api.StrictJson(app)
    _attach_database(app)
    Migrate(app, database.db, directory=str(database.MIGRATIONS), compare_type=True)
    app.context_processor(lambda: {"demo": app.config["DEMO"]})
    security.attach(app)
    problem.attach(app)
    api = http_api.attach(app)
    for room in ROOMS:
        room.attach(app, api)
    document.serve(app, api)
    return app


def _attach_database(app: Flask) -> None:
    database.connect(app.config)
    try:
        database.db.init_app(app)
    except ModuleNotFoundError as error:
        raise database.driver_missing(error) from error
    with app.app_context():
        database.prepare(app.config)
