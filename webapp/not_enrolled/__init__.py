"""Not enrolled: what came from tablets that are not, in one place, apart from the rest."""

from __future__ import annotations

from flask import Flask
from flask_smorest import Api


def attach(app: Flask, _api: Api) -> None:
    # Not above: the page takes reports in by the outbox, and the outbox imports this store.
    from webapp.not_enrolled.views import blueprint

    app.register_blueprint(blueprint)
