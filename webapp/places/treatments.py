"""The log of treatments: when, by what, done, failed or missed; it ends nothing by itself."""

from __future__ import annotations

import uuid
from collections.abc import Mapping
from datetime import datetime
from typing import Any

from sqlalchemy import select
from sqlalchemy.orm import Session

from webapp.audit import service as audit
from webapp.fields import CLOCKS_DIFFER
from webapp.jsontext import rfc3339
from webapp.places.models import Treatment
from webapp.places.register import Json, Place
from webapp.warnings import service as warnings

DONE = "done"
MEANS = ("train", "hand", "other")
OUTCOMES = (DONE, "failed", "missed")
NEXT_LINE = ("yes", "no", "not known")
MOST = 50


class StillToCome(ValueError):
    """A time that has not been; nothing is kept."""


def note(
    session: Session, place: Place, told: Mapping[str, Any], who: str, now: datetime
) -> None:
    """Keep one treatment as it was told.

    Raises
    ------
    StillToCome
        If it was not yet done at this time.
    """
    if told["done_at"] > now + CLOCKS_DIFFER:
        raise StillToCome("Still to come. Type when it was, or should have been.")
    row = {"id": uuid.uuid4(), "place_id": place.id, "kept_at": now, "kept_by": who}
    session.add(Treatment(**row, **told))
    where: Json = {"line": place.line_key, "direction": place.direction, "state": place.state}
    where |= {"from_m": place.from_m, "to_m": place.to_m}
    new = {**where, **told, "done_at": rfc3339(told["done_at"])}
    audit.record(session, now, who, "place.treatment", str(place.id), {}, new)


def of(session: Session, place: uuid.UUID) -> list[Treatment]:
    """Return the newest treatments of a place."""
    query = select(Treatment).where(Treatment.place_id == place)
    query = query.order_by(Treatment.done_at.desc(), Treatment.kept_at.desc())
    return list(session.scalars(query.limit(MOST)))


def live_there(session: Session, place: Place, log: list[Treatment]) -> list[warnings.Warned]:
    """Return the live warnings of a place that was treated since they began.

    Each may be told the step "treated"; a person does it, at the warning.
    """
    latest = next((row.done_at for row in log if row.outcome == DONE), None)
    if latest is None:
        return []
    return [
        one
        for one in warnings.listed(session)
        if one.status == "published"
        and (one.line_key, one.direction) == (place.line_key, place.direction)
        and one.from_m <= place.to_m
        and one.to_m >= place.from_m
        and one.from_at <= latest
    ]
