"""Warnings: what the signaller said about a piece of rail, told to every tablet."""

from __future__ import annotations

from flask import Flask
from flask_smorest import Api

from webapp.warnings import clearing_desk, desk, desk_api, desk_shared, export_views
from webapp.warnings.views import blueprint


def attach(app: Flask, api: Api) -> None:
    api.register_blueprint(blueprint)
    api.register_blueprint(desk_api.blueprint)
    for pages in (desk, clearing_desk):  # importing them fills the one blueprint
        assert pages.blueprint is desk_shared.blueprint
    app.register_blueprint(desk_shared.blueprint)
    app.register_blueprint(export_views.blueprint)
