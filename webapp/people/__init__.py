"""People: who works at the desk, with which rights, and how they are let in."""

from __future__ import annotations

from flask import Flask
from flask_smorest import Api

from webapp.people import access
from webapp.people.views import blueprint


def attach(app: Flask, _api: Api) -> None:
    access.attach(app)
    app.register_blueprint(blueprint)
