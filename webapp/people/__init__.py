"""People: who works at the desk, with which rights, and how they are let in."""

from __future__ import annotations

from flask import Flask
from flask_smorest import Api

from webapp import access


def attach(app: Flask, _api: Api) -> None:
    from webapp.people.views import blueprint  # the views need `access` whole

    access.attach(app)
    app.register_blueprint(blueprint)
