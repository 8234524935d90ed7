"""Control: where it is slippery, which trains may not go there, which wheels to look at."""

from __future__ import annotations

from flask import Flask
from flask_smorest import Api

from webapp.control.views import blueprint


def attach(app: Flask, _api: Api) -> None:
    app.register_blueprint(blueprint)
