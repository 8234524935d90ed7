"""Places: the register of listed places, what reports propose, what was treated."""

from __future__ import annotations

from flask import Flask
from flask_smorest import Api

from webapp.places.views import blueprint


def attach(app: Flask, _api: Api) -> None:
    app.register_blueprint(blueprint)
