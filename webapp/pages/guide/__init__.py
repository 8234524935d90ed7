"""Guide: pictures of the tablet app, each with the question it answers in two seconds."""

from __future__ import annotations

from flask import Flask
from flask_smorest import Api

from webapp.pages.guide.views import blueprint


def attach(app: Flask, _api: Api) -> None:
    app.register_blueprint(blueprint)
