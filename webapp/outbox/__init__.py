"""Outbox: where tablets hand in what they hold, each item exactly once in effect."""

from __future__ import annotations

from flask import Flask
from flask_smorest import Api

from webapp.outbox import desk
from webapp.outbox.service import KINDS
from webapp.outbox.views import blueprint


def attach(app: Flask, api: Api) -> None:
    # Items are checked singly, so no call names their schema; the document still must.
    for kind in KINDS.values():
        api.spec.components.schema(type(kind.schema).__name__, schema=kind.schema)
    api.register_blueprint(blueprint)
    app.register_blueprint(desk.blueprint)
