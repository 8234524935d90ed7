"""Get a data folder ready: tables, the demo's packs, a few invented reports."""

from __future__ import annotations

from collections.abc import Callable

import flask_migrate
from flask import Flask

Say = Callable[[str], None]


def migrate(app: Flask) -> None:
    """Bring the tables to this version; on current ones nothing happens."""
    with app.app_context():
        flask_migrate.upgrade()


def publish_demo(app: Flask, say: Say) -> None:
    """Build and publish the demo lines."""


def add_samples(app: Flask, say: Say) -> None:
    """Put in a few invented reports."""
