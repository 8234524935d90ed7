"""Build batches and items as a tablet would."""

from __future__ import annotations

import uuid
from datetime import UTC, datetime
from typing import Any

from flask import Flask
from flask.testing import FlaskClient

CHANGE = {"X-Step-In-Hand": "1"}
INSTALL = "0192f0c1-0000-4000-8000-000000000001"


def opened(app: Flask) -> FlaskClient:
    """A tablet that opened the app: a demo enrols it."""
    client = app.test_client()
    assert client.get("/").status_code == 200
    return client


def body(**changes: Any) -> dict[str, Any]:
    return {
        "route": "larch-valley",
        "pack": None,
        "direction": "down",
        "target": "harrowmere/down",
        "place": None,
        "at_m": 51234.5,
        "position": {"lat": 54.1, "lon": -2.5, "accuracy_m": 12, "age_s": 1.5},
        "found": "reportable",
        "happened": ["slide", "leaves"],
        "step": "2",
        "weather": "drizzle",
        "sand_used": None,
        "flats_suspected": False,
        "train_not_seen": False,
        "told_signaller_at": "2026-11-25T06:41:00+00:00",
        "text": "",
        "train": "three-step/8",
        "rail_state": "leaf film",
        "driver_name": None,
        "supersedes": None,
        **changes,
    }


def item(seq: int = 1, **changes: Any) -> dict[str, Any]:
    """One report; arguments named after a field of the item change that, others the body."""
    whole = {
        "kind": "report",
        "id": str(uuid.uuid4()),
        "seq": seq,
        "observed_at": "2026-11-25T06:40:00+00:00",
    }
    whole.update({name: changes.pop(name) for name in list(changes) if name in whole})
    return {**whole, "body": body(**changes)}


def batch(
    *items: Any, sent_at: str | None = None, install_id: str = INSTALL
) -> dict[str, Any]:
    return {
        "install_id": install_id,
        "sent_at": sent_at or datetime.now(UTC).isoformat(),
        "app_build": "0123456789abcdef",
        "items": list(items),
    }
