"""Reports: what drivers found, as it arrived, and what the depot answers."""

from __future__ import annotations

from flask import Flask
from flask_smorest import Api

from webapp.reports import answer_calls, export_views, page_views
from webapp.reports.views import blueprint


def attach(app: Flask, api: Api) -> None:
    for pages in (page_views, export_views):  # importing them fills the one blueprint
        assert pages.shared is blueprint
    app.register_blueprint(blueprint)
    api.register_blueprint(answer_calls.blueprint)
