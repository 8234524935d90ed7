"""A line just big enough to be warned about, and warnings as a person would type them."""

from __future__ import annotations

import uuid
from datetime import UTC, datetime
from typing import Any

from flask import Flask

from tests.support.fake_pack import FakePack, file
from webapp.publish import service as publisher
from webapp.records.warnings import models as warnings_models
from webapp.records.warnings import service
from webapp.store.db import writing

NOW = datetime(2026, 11, 25, 6, 40, tzinfo=UTC)
WHO = "a test"
BASE: dict[str, Any] = {
    "route": {
        "key": "larch-valley",
        "name": "Larch Valley",
        "datum": "Larch Quay",
        "distance_unit": "mi-ch",
    },
    "directions": [{"key": "down", "sign": 1}, {"key": "up", "sign": -1}],
    "states": [
        {"key": key, "plan": plan, "pickable": key != "very-low"}
        for key, plan in (("dry", 0.15), ("damp", 0.07), ("leaf", 0.04), ("very-low", 0.02))
    ],
    "geometry": [[-2.5, 54.1, 10000.0], [-2.4, 54.2, 60000.0]],
}


def line_pack(**head: Any) -> FakePack:
    base = file("base", {**BASE, "route": {**BASE["route"], **head}})
    entry = {"kind": "base", "sha256": base.sha256}
    manifest = file("manifest", {"route": "larch-valley", "files": [entry]})
    return FakePack("larch-valley", "Larch Valley", manifest.sha256, (manifest, base))


def typed(**changes: Any) -> dict[str, Any]:
    return {
        "line": "larch-valley",
        "direction": "down",
        "from_place": "31m 20ch",
        "to_place": "32m 10ch",
        "state": "leaf",
        "reason": "leaf film at Harrowmere",
        "from_at": "2026-11-25T06:40:00Z",
        "told_by": "signaller, Harrowmere",
        **changes,
    }


def publish_line(app: Flask) -> None:
    with app.app_context(), writing() as session:
        publisher.publish(session, line_pack(), NOW)


def warn(app: Flask, now: datetime = NOW, **changes: Any) -> warnings_models.Warned:
    """Draft and publish, as the command does, in one transaction."""
    with app.app_context(), writing() as session:
        made = service.draft(session, typed(**changes), WHO, now, uuid.uuid4())
        warned = service.publish(session, made.id, made.rev, WHO, now)
        session.expunge(warned)
    return warned


def end(
    app: Flask, warned: warnings_models.Warned, now: datetime = NOW
) -> warnings_models.Warned:
    with app.app_context(), writing() as session:
        ended = service.end(session, warned.id, warned.rev, "the signaller", WHO, now)
        session.expunge(ended)
    return ended
