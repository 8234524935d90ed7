"""Desk: the pages that people at the depot open, one module a page, and their calls."""

from __future__ import annotations

from flask import Flask
from flask_smorest import Api

from webapp.desk import (
    bulk_review,
    carried,
    clearing,
    control,
    frame,
    handover,
    kept,
    not_enrolled,
    packs,
    people,
    place_calls,
    places,
    report,
    report_files,
    reports,
    restored,
    restrictions,
    rooms,
    seals,
    tablets,
    warning_calls,
    warning_files,
    warning_shared,
    warnings,
    weather,
)
from webapp.publish import builder
from webapp.web import access


def attach(app: Flask, api: Api) -> None:
    access.attach(app)
    # A test puts its own in here, to build at once or not at all.
    app.extensions["start_builder"] = builder.start
    for pages in (warnings, clearing):  # importing them fills the one blueprint
        assert pages.blueprint is warning_shared.blueprint
    for pages in (report, report_files, bulk_review):
        assert pages.shared is reports.blueprint
    for one in (
        *(frame, restored, tablets, packs, warning_shared, warning_files, carried),
        *(not_enrolled, people, reports, control, handover, kept, places, restrictions, seals),
        *(weather, rooms),
    ):
        app.register_blueprint(one.blueprint)
    api.register_blueprint(warning_calls.blueprint)
    api.register_blueprint(place_calls.blueprint)
    app.context_processor(lambda: {"desk_pages": frame.PAGES})
