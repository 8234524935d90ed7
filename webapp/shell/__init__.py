"""Shell: the tablet app's own files, each build under its own address."""

from __future__ import annotations

from flask import Flask
from flask_smorest import Api

from webapp.shell import service
from webapp.shell.views import blueprint


def attach(app: Flask, _api: Api) -> None:
    root = app.config.get("STATIC_ROOT") or service.find_static()
    build = service.read_build(root, demo=app.config["DEMO"])
    app.extensions["shell"] = service.with_former(build, app.config["DATA"] / "builds")
    app.register_blueprint(blueprint)
