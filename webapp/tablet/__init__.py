"""Tablet: all that the tablet app asks for: its own files, enrolment, outbox, feeds."""

from __future__ import annotations

from flask import Flask
from flask_smorest import Api

from webapp.publish.keys import KeyFile
from webapp.records.outbox import KINDS
from webapp.tablet import (
    answers,
    build,
    enrol,
    outbox,
    own_report,
    packs,
    restrictions,
    shell,
    warnings,
    weather,
)
from webapp.web import tablet_cookie


def attach(app: Flask, api: Api) -> None:
    tablet_cookie.attach(app)
    root = app.config.get("STATIC_ROOT") or build.find_static()
    shell_build = build.read_build(root, demo=app.config["DEMO"])
    app.extensions["shell"] = build.with_former(shell_build, app.config["DATA"] / "builds")
    app.register_blueprint(shell.blueprint)
    app.extensions["depot_key"] = KeyFile(app.config["DATA"])
    # Items are checked singly, so no call names their schema; the document still must.
    for kind in KINDS.values():
        api.spec.components.schema(type(kind.schema).__name__, schema=kind.schema)
    for calls in (enrol, packs, warnings, outbox, answers, own_report, restrictions, weather):
        api.register_blueprint(calls.blueprint)
