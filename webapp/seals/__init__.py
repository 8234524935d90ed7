"""Seals: what one tablet showed after an incident, kept as it was sent."""

from __future__ import annotations

from flask import Flask
from flask_smorest import Api

from webapp.seals.views import blueprint


def attach(app: Flask, _api: Api) -> None:
    app.register_blueprint(blueprint)
