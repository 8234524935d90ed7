"""Outbox: where tablets hand in what they hold, each item exactly once in effect."""

from __future__ import annotations

from flask import Flask
from flask_smorest import Api

from webapp.outbox.schemas import ReportItem
from webapp.outbox.views import blueprint


def attach(_app: Flask, api: Api) -> None:
    # Items are checked singly, so no call names their schema; the document still must.
    api.spec.components.schema("ReportItem", schema=ReportItem)
    api.register_blueprint(blueprint)
