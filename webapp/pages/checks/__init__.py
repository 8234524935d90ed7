"""Checks: how far the figures may be trusted, each beside what others published."""

from __future__ import annotations

from flask import Flask
from flask_smorest import Api

from webapp.pages.checks.views import blueprint


def attach(app: Flask, _api: Api) -> None:
    app.register_blueprint(blueprint)
