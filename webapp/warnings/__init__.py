"""Warnings: what the signaller said about a piece of rail, told to every tablet."""

from __future__ import annotations

from flask import Flask
from flask_smorest import Api

from webapp.warnings import desk
from webapp.warnings.views import blueprint


def attach(app: Flask, api: Api) -> None:
    api.register_blueprint(blueprint)
    app.register_blueprint(desk.blueprint)
