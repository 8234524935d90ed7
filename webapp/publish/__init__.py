"""Publish: packs that tablets can fetch, and the index that says which are current."""

from __future__ import annotations

from flask import Flask
from flask_smorest import Api

from webapp.publish.views import blueprint


def attach(_app: Flask, api: Api) -> None:
    api.register_blueprint(blueprint)
