"""Places: the register of listed places, what reports propose, what was treated."""

from __future__ import annotations

from flask import Flask
from flask_smorest import Api

from webapp.places import desk_api
from webapp.places.views import blueprint


def attach(app: Flask, api: Api) -> None:
    api.register_blueprint(desk_api.blueprint)
    app.register_blueprint(blueprint)
