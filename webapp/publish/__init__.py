"""Publish: packs that tablets can fetch, and the signed index that says which are current."""

from __future__ import annotations

from flask import Flask
from flask_smorest import Api

from webapp.publish.service import KeyFile
from webapp.publish.views import blueprint


def attach(app: Flask, api: Api) -> None:
    app.extensions["depot_key"] = KeyFile(app.config["DATA"])
    api.register_blueprint(blueprint)
