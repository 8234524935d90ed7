"""What is kept of people, for how long, and how it goes."""

from __future__ import annotations

from flask import Flask
from flask_smorest import Api

from webapp.privacy.views import blueprint


def attach(app: Flask, _api: Api) -> None:
    app.register_blueprint(blueprint)
