"""The log of treatments: when, by what, done, failed or missed; it ends nothing by itself."""

from __future__ import annotations

import uuid
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from sqlalchemy import ColumnElement, exists, func, select
from sqlalchemy.orm import Session, aliased

from webapp.plain.fields import CLOCKS_DIFFER
from webapp.plain.jsontext import rfc3339
from webapp.records.places.models import Treatment
from webapp.records.places.register import Json, Place
from webapp.records.warnings import models as warnings_models
from webapp.records.warnings import service as warnings
from webapp.store import audit

DONE = "done"
STRUCK = "struck"
MEANS = ("train", "hand", "other")
OUTCOMES = (DONE, "failed", "missed")
NEXT_LINE = ("yes", "no", "not known")
MOST = 50


class StillToCome(ValueError):
    """A time that has not been; nothing is kept."""


class NotThere(LookupError):
    """No such treatment stands at this place; nothing was done."""


@dataclass(frozen=True)
class Noted:
    """A treatment as it was told, and the row that took it back, if one did."""

    row: Treatment
    struck: Treatment | None


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
    session.add(_row(place, told, who, now))
    new = {**_where(place), **told, "done_at": rfc3339(told["done_at"])}
    audit.record(session, now, who, "place.treatment", str(place.id), {}, new)


def strike(
    session: Session,
    place: Place,
    treatment: uuid.UUID,
    told: Mapping[str, str],
    who: str,
    now: datetime,
) -> None:
    """Take back what was told or typed wrongly (``told_by``, ``note``); both rows stay.

    Raises
    ------
    NotThere
        If it is not known at this place or was taken back already.
    """
    old = session.scalar(
        select(Treatment)
        .where(Treatment.id == treatment, Treatment.place_id == place.id)
        .where(Treatment.outcome != STRUCK)
        .with_for_update()
    )
    if old is None or session.scalar(select(Treatment.id).where(*_strikes(old))) is not None:
        raise NotThere(str(treatment))
    # The time of what it takes back: so no page ever shows the one without the other.
    row = {"done_at": old.done_at, "means": old.means, "next_line": old.next_line}
    session.add(_row(place, {**row, **told, "outcome": STRUCK, "strikes": old.id}, who, now))
    kept = {"outcome": old.outcome, "done_at": rfc3339(old.done_at)}
    new = {**_where(place), **told, "outcome": STRUCK, "done_at": rfc3339(old.done_at)}
    audit.record(session, now, who, "place.treatment_struck", str(place.id), kept, new)


def _strikes(old: Treatment) -> tuple[ColumnElement[bool], ColumnElement[bool]]:
    # The place as well: the index begins with it.
    return Treatment.place_id == old.place_id, Treatment.strikes == old.id


def _row(place: Place, told: Mapping[str, Any], who: str, now: datetime) -> Treatment:
    kept = {"id": uuid.uuid4(), "place_id": place.id, "kept_at": now, "kept_by": who}
    return Treatment(**kept, **told)


def _where(place: Place) -> Json:
    where: Json = {"line": place.line_key, "direction": place.direction, "state": place.state}
    return where | {"from_m": place.from_m, "to_m": place.to_m}


def of(session: Session, place: uuid.UUID) -> list[Noted]:
    """Return the newest treatments of a place, also those that were taken back."""
    query = select(Treatment).where(Treatment.place_id == place)
    query = query.order_by(Treatment.done_at.desc(), Treatment.kept_at.desc())
    rows = session.scalars(query.limit(MOST)).all()
    struck = {row.strikes: row for row in rows if row.outcome == STRUCK}
    return [Noted(row, struck.get(row.id)) for row in rows if row.outcome != STRUCK]


def live_there(session: Session, place: Place) -> list[warnings_models.Warned]:
    """Return the live warnings of a place that was treated since they began.

    Each may be told the step "treated"; a person does it, at the warning.
    """
    taken_back = aliased(Treatment)
    # Asked of all there are, not of the newest that the page shows.
    latest = session.scalar(
        select(func.max(Treatment.done_at))
        .where(Treatment.place_id == place.id, Treatment.outcome == DONE)
        .where(
            ~exists().where(
                taken_back.place_id == Treatment.place_id, taken_back.strikes == Treatment.id
            )
        )
    )
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
