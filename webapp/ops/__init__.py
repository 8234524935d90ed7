"""Operations: is the server there."""

from __future__ import annotations

from flask import Flask
from flask_smorest import Api

from webapp.ops.views import blueprint


def attach(_app: Flask, api: Api) -> None:
    api.register_blueprint(blueprint)
