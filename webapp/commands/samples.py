"""A few invented reports, so that the demo's desk has something to show."""

from __future__ import annotations

import uuid
from collections.abc import Callable, Iterator
from datetime import UTC, datetime, timedelta
from typing import Any

from flask import Flask
from sqlalchemy.orm import Session

from webapp.lines import in_use
from webapp.lines.base import Base, Target
from webapp.plain.jsontext import rfc3339
from webapp.publish import service as publisher
from webapp.records import outbox, tablets
from webapp.records.reports import service as reports
from webapp.store.db import writing

# What the invented drivers met; one stop each, in order, on every line.
MET: tuple[dict[str, Any], ...] = (
    {"found": "good", "weather": "dry", "step": "2", "text": "Bit well all the way in."},
    {
        "found": "expected",
        "happened": ["slide"],
        "weather": "drizzle",
        "step": "1",
        "text": "WSP worked twice below the bridge, stopped on the mark.",
    },
    {
        "found": "reportable",
        "happened": ["slide", "leaves"],
        "weather": "mist",
        "step": "2",
        "sand_used": True,
        "told": True,
        "text": "Slid from the first application on, held the brake, stopped 10 m past.",
    },
    {
        "found": "reportable",
        "happened": ["slip at start", "dull railhead", "first rain"],
        "weather": "rain",
        "step": "1",
        "told": True,
        "text": "Wheels slipped at starting; railhead dull for two train lengths.",
    },
)


def add(app: Flask, say: Callable[[str], None]) -> None:
    """Hand the samples in as a tablet would, but only into a store that is empty."""
    now = datetime.now(UTC)
    with app.app_context(), writing() as session:
        if reports.count(session):
            return
        for label, batch in _batches(session, now):
            token = tablets.enrol(session, label, now) if label else None
            session.flush()
            outbox.take_in(session, batch, outbox.Sender(token), now)
        say(f"desk: {reports.count(session)} invented reports put in")


def _batches(session: Session, now: datetime) -> Iterator[tuple[str | None, outbox.Batch]]:
    """One tablet that lost a report, one with a slow clock, one that nobody enrolled."""
    slow = now - timedelta(hours=1)
    plans: tuple[tuple[str | None, datetime, tuple[int, ...]], ...] = (
        ("sample tablet 1", now, (1, 2, 4)),
        ("sample tablet 2", slow, (1, 2)),
        (None, now, (1,)),
    )
    for route in publisher.current(session).routes:
        base = in_use.base(session, route["pack"])
        for label, clock, numbers in plans:
            items = [item for item in _items(route, base, clock) if item["seq"] in numbers]
            yield label, outbox.Batch(uuid.uuid4(), clock, "sample", items)
        return


def _items(route: dict[str, Any], base: Base, clock: datetime) -> Iterator[dict[str, Any]]:
    stops = [target for target in base.targets if target.kind == "stop"]
    names = {place.key: place.name for place in base.places}
    for seq, (met, stop) in enumerate(zip(MET, stops[1:], strict=False), 1):
        seen = clock - timedelta(minutes=7 * (len(MET) - seq) + 4)
        body = _body(route, stop, met, seen)
        body["place"] = names.get(stop.place or "")
        yield {
            "kind": "report",
            "id": str(uuid.uuid4()),
            "seq": seq,
            "observed_at": rfc3339(seen),
            "body": body,
        }


def _body(
    route: dict[str, Any], stop: Target, met: dict[str, Any], seen: datetime
) -> dict[str, Any]:
    body = {name: value for name, value in met.items() if name != "told"}
    body.update(
        route=route["key"],
        pack=route["pack"],
        direction=stop.direction,
        target=stop.key,
        told_signaller_at=rfc3339(seen + timedelta(minutes=2)) if met.get("told") else None,
    )
    return body
