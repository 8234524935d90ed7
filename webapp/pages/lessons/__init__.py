"""Lessons: the same stop taken twice, and disc brakes beside tread brakes."""

from __future__ import annotations

from flask import Flask
from flask_smorest import Api

from webapp.pages.lessons.views import blueprint


def attach(app: Flask, _api: Api) -> None:
    app.register_blueprint(blueprint)
