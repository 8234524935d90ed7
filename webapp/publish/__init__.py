"""Publish: packs that tablets can fetch, and the signed index that says which are current."""

from __future__ import annotations

from flask import Flask
from flask_smorest import Api

from webapp.publish import builder, desk
from webapp.publish.service import KeyFile
from webapp.publish.views import blueprint


def attach(app: Flask, api: Api) -> None:
    app.extensions["depot_key"] = KeyFile(app.config["DATA"])
    # A test puts its own in here, to build at once or not at all.
    app.extensions["start_builder"] = builder.start
    api.register_blueprint(blueprint)
    app.register_blueprint(desk.blueprint)
