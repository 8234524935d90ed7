"""Temporary speed restrictions as their notices say them; no tablet computes with them."""

from __future__ import annotations

from flask import Flask
from flask_smorest import Api

from webapp.restrictions.views import blueprint


def attach(app: Flask, _api: Api) -> None:
    app.register_blueprint(blueprint)
