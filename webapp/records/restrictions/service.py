"""Keep restrictions as notices say them; none ends by the clock, a person ends each.

Tablets are told what is live or to come, and lower speeds they
show by it (`webapp/lines/lowering.py`). A
brake mark stays computed from the line's own speed, since a restriction that is lifted early
leaves a driver faster than a lower one had assumed.
"""

from __future__ import annotations

import math
import re
import uuid
from collections.abc import Collection, Mapping
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Any

from sqlalchemy import Select, select, tuple_
from sqlalchemy.orm import Session

from calc.units import speed_from_kmh, speed_from_mph
from webapp.lines import in_use
from webapp.lines.base import Base
from webapp.lines.posts import how_to_type, place_on_line
from webapp.plain.agreed import FASTEST_RESTRICTION
from webapp.plain.fields import CLOCKS_DIFFER
from webapp.plain.jsontext import rfc3339
from webapp.records.restrictions.models import Restriction
from webapp.store import audit
from webapp.store.edits import Faults, NothingChanged, Stale, locked, revise

Json = dict[str, Any]

UNITS = {"mph": "mph", "kmh": "km/h"}
TO_MPS = {"mph": speed_from_mph, "kmh": speed_from_kmh}
PAGE_SIZE = 30
LIVE, TO_COME, ENDED = "live", "to-come", "ended"
# Farther than any notice: a mistyped year.
FURTHEST = timedelta(days=3 * 366)
FACTS = (
    *("direction", "from_m", "to_m", "speed", "unit", "speed_mps"),
    *("from_at", "until_at", "reference", "told_by"),
)


@dataclass(frozen=True)
class Page:
    """One page of a list, and the last row of it if more follow."""

    rows: list[Restriction]
    more: uuid.UUID | None


def page(
    session: Session,
    show: str,
    now: datetime,
    after: Restriction | None = None,
    size: int = PAGE_SIZE,
) -> Page:
    """Return one page of what is live or to come, along the line, or of what ended, newest
    first. What has passed its end is live until a person ends it."""
    query = _after(_listed(show, now), show, after)
    rows = list(session.scalars(query.limit(size + 1)))
    return Page(rows[:size], rows[size - 1].id if len(rows) > size else None)


def live(session: Session, now: datetime) -> list[Restriction]:
    """Return what is live, those that ask whether they were withdrawn first."""
    rows = session.scalars(_listed(LIVE, now))
    return sorted(rows, key=lambda row: not asks(row, now))


def asks(row: Restriction, now: datetime) -> bool:
    """Say whether its end has passed and nobody has said that the notice was withdrawn."""
    return row.ended_at is None and row.until_at is not None and row.until_at <= now


def _listed(show: str, now: datetime) -> Select[Restriction]:
    row = Restriction
    if show == ENDED:
        query = select(row).where(row.ended_at.is_not(None))
        return query.order_by(row.ended_at.desc(), row.id.desc())
    begun = row.from_at <= now if show == LIVE else row.from_at > now
    query = select(row).where(row.ended_at.is_(None), begun)
    return query.order_by(row.line_key, row.from_m, row.id)


def _after(
    query: Select[Restriction], show: str, last: Restriction | None
) -> Select[Restriction]:
    row = Restriction
    if last is None:
        return query
    if show == ENDED:
        return query.where(tuple_(row.ended_at, row.id) < tuple_(last.ended_at, last.id))
    here = tuple_(row.line_key, row.from_m, row.id)
    return query.where(here > tuple_(last.line_key, last.from_m, last.id))


def told(session: Session) -> list[Json]:
    """Return all that nobody has ended, on the lines in use, as tablets get them."""
    packs = in_use.packs(session)
    row = Restriction
    query = select(row).where(row.ended_at.is_(None), row.line_key.in_(packs))
    found = session.scalars(query.order_by(row.line_key, row.from_m, row.id))
    return [_item(one, in_use.base(session, packs[one.line_key])) for one in found]


def _item(row: Restriction, base: Base) -> Json:
    said: Json = {"id": str(row.id), "rev": row.rev, "line": row.line_key}
    said["datum"] = base.datum
    for key in ("direction", "from_m", "to_m", "speed", "unit", "speed_mps", "reference"):
        said[key] = getattr(row, key)
    until = None if row.until_at is None else rfc3339(row.until_at)
    return {**said, "from_at": rfc3339(row.from_at), "until_at": until}


def find(session: Session, name: uuid.UUID) -> Restriction | None:
    """Return one restriction, None if there is none of this id."""
    return session.get(Restriction, name)


def by_id(session: Session, names: Collection[uuid.UUID]) -> dict[uuid.UUID, Restriction]:
    """Return those of these ids that are known."""
    rows = session.scalars(select(Restriction).where(Restriction.id.in_(names)))
    return {row.id: row for row in rows}


def speed_words(row: Restriction) -> str:
    """Write the speed as the notice has it."""
    return f"{row.speed} {UNITS.get(row.unit, row.unit)}"


def note(
    session: Session, base: Base, typed: Mapping[str, Any], who: str, now: datetime
) -> uuid.UUID:
    """Keep one restriction as its notice says it.

    Raises
    ------
    Faults
        With every fault of what was typed; nothing is kept then.
    """
    said = _fitted(base, typed, now)
    name = uuid.uuid4()
    row = Restriction(id=name, rev=1, line_key=base.key, **said)
    row.changed_at, row.changed_by = now, who
    row.ended_told_by = row.ended_why = ""
    session.add(row)
    audit.record(session, now, who, "restriction.noted", str(name), {}, _told(row))
    return name


def change(
    session: Session,
    base: Base,
    name: uuid.UUID,
    rev: int,
    typed: Mapping[str, Any],
    who: str,
    now: datetime,
) -> None:
    """Change what is kept of a restriction, as a newer notice says it.

    Raises
    ------
    Faults, NothingChanged, Stale
        Nothing is kept then.
    """
    row, said = _held(session, name, rev), _fitted(base, typed, now)
    if all(getattr(row, key) == said[key] for key in FACTS):
        raise NothingChanged
    old = _told(row)
    revise(row, said, who, now)
    audit.record(session, now, who, "restriction.changed", str(name), old, _told(row))


def end(
    session: Session,
    name: uuid.UUID,
    rev: int,
    told: Mapping[str, Any],
    who: str,
    now: datetime,
) -> None:
    """End a restriction as a person was told: by whom, when, why.

    Raises
    ------
    Faults, Stale
        Nothing is kept then.
    """
    row = _held(session, name, rev)
    faults = _years(told, ("ended_at",), now)
    if faults:
        raise Faults(faults)
    if told["ended_at"] > now + CLOCKS_DIFFER:
        raise Faults(["ended_at: Still to come. A restriction ends when its notice does."])
    old = _told(row)
    said = {"ended_at": told["ended_at"], "ended_told_by": told["told_by"]}
    revise(row, {**said, "ended_why": told["reason"]}, who, now)
    new = {**old, "told_by": told["told_by"], "reason": told["reason"]}
    new["ended_at"] = rfc3339(told["ended_at"])
    audit.record(session, now, who, "restriction.ended", str(name), old, new)


def _held(session: Session, name: uuid.UUID, rev: int) -> Restriction:
    """Return the row under lock, as it was when it was read."""
    row = locked(session, Restriction, name)
    if row is None or row.rev != rev or row.ended_at is not None:
        raise Stale
    return row


def _told(row: Restriction) -> Json:
    said: Json = {"line": row.line_key, "speed": speed_words(row)}
    for key in ("direction", "from_m", "to_m", "reference", "told_by"):
        said[key] = getattr(row, key)
    until = None if row.until_at is None else rfc3339(row.until_at)
    return {**said, "from_at": rfc3339(row.from_at), "until_at": until}


def _years(typed: Mapping[str, Any], names: tuple[str, ...], now: datetime) -> list[str]:
    return [
        f"{name}: Years from now. Look at the year."
        for name in names
        if typed[name] is not None and abs(typed[name] - now) > FURTHEST
    ]


def _fitted(base: Base, typed: Mapping[str, Any], now: datetime) -> Json:
    faults = _years(typed, ("from_at", "until_at"), now)
    ends = [_place(base, typed[name], name, faults) for name in ("from_place", "to_place")]
    unit = base.speed_unit
    speed = _speed(str(typed["speed"]), unit, faults)
    if typed["until_at"] is not None and typed["until_at"] <= typed["from_at"]:
        faults.append("until_at: Not after the start. Leave it open if the notice has no end.")
    if None not in ends and ends[0] == ends[1]:
        faults.append("to_place: The same as From. A restriction has a length.")
    if faults:
        raise Faults(faults)
    low, high = sorted(at for at in ends if at is not None)
    said = {key: typed[key] for key in ("direction", "from_at", "until_at")}
    said |= {key: typed[key] for key in ("reference", "told_by")}
    said |= {"from_m": low, "to_m": high, "speed": speed, "unit": unit}
    return {**said, "speed_mps": round(TO_MPS[unit](speed), 4)}


def _place(base: Base, text: str, name: str, faults: list[str]) -> float | None:
    unit = str(base.distance_unit)
    at = place_on_line(text, unit)
    first, last = base.ends or (-math.inf, math.inf)
    if at is None:
        faults.append(f"{name}: {text}: type it as on the posts: {how_to_type(unit)}.")
    elif not first <= at <= last:
        faults.append(f"{name}: {text} is not on {base.name}.")
        return None
    return at


def _speed(text: str, unit: str, faults: list[str]) -> int:
    """Read a whole speed in the unit of the line; a unit may be typed but not another."""
    words = UNITS[unit]
    found = re.fullmatch(r"(\d{1,3}) ?([a-z/]*)", text.strip().lower(), re.ASCII)
    if found and found[2] not in ("", words, unit):
        faults.append(f"speed: This line is posted in {words}. Type the notice's {words}.")
    elif not found or not 1 <= int(found[1]) <= FASTEST_RESTRICTION:
        faults.append(
            f"speed: Type a whole number of {words} from 1 to {FASTEST_RESTRICTION}."
        )
    return int(found[1]) if found else 0
