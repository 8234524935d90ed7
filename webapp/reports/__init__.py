"""Reports: what drivers found, as it arrived."""

from __future__ import annotations

from flask import Flask
from flask_smorest import Api

from webapp.reports.views import blueprint


def attach(app: Flask, _api: Api) -> None:
    app.register_blueprint(blueprint)
