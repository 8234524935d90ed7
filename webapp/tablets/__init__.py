"""Tablets: which device is speaking, and how it is enrolled."""

from __future__ import annotations

from flask import Flask
from flask_smorest import Api

from webapp import tablet_cookie
from webapp.tablets import desk, views


def attach(app: Flask, api: Api) -> None:
    tablet_cookie.attach(app)
    api.register_blueprint(views.blueprint)
    app.register_blueprint(desk.blueprint)
