"""Hand-over: what is live, what changed since, what waits, for whoever takes the desk next."""

from __future__ import annotations

from flask import Flask
from flask_smorest import Api

from webapp.handover.views import blueprint


def attach(app: Flask, _api: Api) -> None:
    app.register_blueprint(blueprint)
