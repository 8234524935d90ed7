"""Operations: is the server there and well; its figures, its log."""

from __future__ import annotations

from flask import Flask
from flask_smorest import Api

from webapp.ops import views


def attach(app: Flask, api: Api) -> None:
    api.register_blueprint(views.blueprint)
    app.register_blueprint(views.pages)
    views.attach(app)
