"""What is kept of people, for how long, and how it goes."""

from __future__ import annotations

from flask import Flask
from flask_smorest import Api

from webapp.privacy import own
from webapp.privacy.views import blueprint


def attach(app: Flask, api: Api) -> None:
    app.register_blueprint(blueprint)
    api.register_blueprint(own.blueprint)
