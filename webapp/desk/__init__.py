"""Desk: the frame round the depot's pages, and who may open it."""

from __future__ import annotations

from flask import Flask, current_app, request
from flask_smorest import Api

from webapp.desk.views import blueprint
from webapp.problem import Problem


def attach(app: Flask, _api: Api) -> None:
    app.register_blueprint(blueprint)
    app.before_request(open_only_on_this_machine)


def open_only_on_this_machine() -> None:
    """Until the desk has accounts, a server that others can reach keeps it shut."""
    inside = request.path == "/desk" or request.path.startswith("/desk/")
    config = current_app.config
    if inside and config.get("TRUSTED_PROXY") and not config["DEMO"]:
        raise Problem(
            403,
            "desk_closed",
            "The desk has no accounts yet, so it opens only where no front server is set.",
        )
