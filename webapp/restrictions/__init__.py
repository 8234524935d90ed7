"""Temporary speed restrictions as their notices say them, for the desk and for tablets."""

from __future__ import annotations

from flask import Flask
from flask_smorest import Api

from webapp.restrictions import feed
from webapp.restrictions.views import blueprint


def attach(app: Flask, api: Api) -> None:
    app.register_blueprint(blueprint)
    api.register_blueprint(feed.blueprint)
