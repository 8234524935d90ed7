"""List, change and retire places; each action writes its audit row in its transaction."""

from __future__ import annotations

import re
import unicodedata
import uuid
from collections.abc import Callable, Mapping, Sequence
from datetime import datetime
from typing import Any

from sqlalchemy.orm import Session

from webapp.lines.base import Base
from webapp.records.places.models import DeclinedPlace, ListedPlace
from webapp.records.places.proposals import Proposal
from webapp.records.places.register import (
    FACTS,
    Bases,
    Place,
    facts,
    find,
    place_id,
)
from webapp.store import audit
from webapp.store.db import insert_new
from webapp.store.edits import Faults, NothingChanged, Stale, locked, revise

Json = dict[str, Any]

MOST_KEYS = 500
COLUMNS = (
    *("key", "name", "direction", "from", "to", "state"),
    *("season_from", "season_to", "reason", "source"),
)
# What the form calls two columns of listed.csv.
FIELDS = {"from": "from_place", "to": "to_place"}

#: Checks one typed place against the line: the place, or (column, sentence) of each fault.
Fit = Callable[[Json, Mapping[str, str]], tuple[Any, list[tuple[str, str]]]]


def enlist(
    session: Session,
    base: Base,
    typed: Mapping[str, str],
    who: str,
    now: datetime,
    reports: Sequence[int] = (),
    *,
    fit: Fit,
) -> uuid.UUID:
    """List a new place; ``reports`` are the numbers of those that proposed it.

    ``fit`` checks what was typed as a row of listed.csv: `webapp.packs.register.fit_listed`.

    Raises
    ------
    Faults
        With every fault of what was typed; nothing is kept then.
    """
    line = base.key
    said = _fitted(fit, base, {**typed, "key": "new"})
    taken = {one.key for one in base.listed}
    for key in _keys(said["name"]):
        if key in taken:
            continue
        row = {
            **{"id": place_id(line, key), "rev": 1, "line_key": line, "key": key, **said},
            **{"changed_at": now, "changed_by": who, "retired_at": None, "retired_why": ""},
        }
        made: uuid.UUID | None = insert_new(
            session, ListedPlace, row, key=("line_key", "key"), answer="id"
        )
        if made is not None:
            new = {"line": line, **said, **({"reports": list(reports)} if reports else {})}
            audit.record(session, now, who, "place.listed", str(made), {}, new)
            return made
    raise Faults(["name: too many places have this name. Give it another."])


def change(
    session: Session,
    bases: Bases,
    name: uuid.UUID,
    rev: int,
    typed: Mapping[str, str],
    who: str,
    now: datetime,
    *,
    fit: Fit,
) -> None:
    """Change what a place says; the first change lays a row over the route's files.

    Raises
    ------
    Faults, NothingChanged, Stale
        Nothing is kept then.
    """
    place, row = _held(session, bases, name, rev, who, now)
    said = _fitted(fit, bases[place.line_key], {**typed, "key": place.key})
    old = facts(place)
    if said == old:
        raise NothingChanged
    revise(row, said, who, now)
    new = {"line": place.line_key, **said}
    audit.record(session, now, who, "place.changed", str(name), old, new)


def retire(
    session: Session,
    bases: Bases,
    name: uuid.UUID,
    rev: int,
    reason: str,
    who: str,
    now: datetime,
) -> None:
    """Take a place off the list; its history stays, and the next pack has it no more."""
    place, row = _held(session, bases, name, rev, who, now)
    revise(row, {"retired_at": now, "retired_why": reason}, who, now)
    new = {**_where(place), "retired": reason}
    audit.record(session, now, who, "place.retired", str(name), facts(place), new)


def decline(session: Session, one: Proposal, reason: str, who: str, now: datetime) -> None:
    """Decline a proposal: the reports that were there by now propose nothing any more."""
    name = uuid.uuid4()
    row = DeclinedPlace(
        id=name, line_key=one.line, direction=one.direction, from_m=one.from_m, to_m=one.to_m,
        reports=len(one.reports), reason=reason, declined_at=now, declined_by=who,
    )  # fmt: skip
    session.add(row)
    new: Json = {"line": one.line, "direction": one.direction, "from_m": one.from_m}
    new |= {"to_m": one.to_m, "reason": reason, "reports": [r.server_no for r in one.reports]}
    audit.record(session, now, who, "place.declined", str(name), {}, new)


def _where(place: Place) -> Json:
    said = {"line": place.line_key, "direction": place.direction, "name": place.name}
    return {**said, "from_m": place.from_m, "to_m": place.to_m, "state": place.state}


def _held(
    session: Session, bases: Bases, name: uuid.UUID, rev: int, who: str, now: datetime
) -> tuple[Place, ListedPlace]:
    """Return the place with its row under lock, as it was when it was read."""
    row = locked(session, ListedPlace, name)
    place = find(session, bases, name)
    if place is None or place.rev != rev or place.retired_at is not None:
        raise Stale
    if place.line_key not in bases:
        raise Faults([f"line: no pack of {place.line_key} is in use."])
    if row is None:
        first = {"line_key": place.line_key, "key": place.key, **facts(place)}
        first |= {"id": name, "rev": 0, "changed_at": now, "changed_by": who}
        first |= {"retired_at": None, "retired_why": ""}
        key = ("line_key", "key")
        if insert_new(session, ListedPlace, first, key=key, answer="id") is None:
            raise Stale
        row = session.get_one(ListedPlace, name)
    return place, row


def _fitted(fit: Fit, base: Base, typed: Mapping[str, str]) -> Json:
    listed, faults = fit(base.file, {column: typed[column] for column in COLUMNS})
    if listed is None:
        raise Faults([f"{FIELDS.get(name, name)}: {said}" for name, said in faults])
    names = [name for name in FACTS if name not in ("from_m", "to_m")]
    said = {name: getattr(listed, name) for name in names}
    return {**said, "from_m": listed.start, "to_m": listed.end}


def _keys(name: str) -> list[str]:
    """Return keys that a name may be given, the plainest first."""
    plain = unicodedata.normalize("NFKD", name).encode("ascii", "ignore").decode().lower()
    first = "-".join(re.findall(r"[a-z0-9]+", plain))[:60].strip("-") or "place"
    return [first, *(f"{first}-{n}" for n in range(2, MOST_KEYS))]
