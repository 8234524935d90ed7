"""The register as it stands: what the served packs list, with the desk's rows laid over it."""

from __future__ import annotations

import uuid
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from sqlalchemy import and_, or_, select, tuple_
from sqlalchemy.orm import Session

from webapp.lines.base import Base, Listed
from webapp.plain.fields import storable
from webapp.records.places.models import ListedPlace

Json = dict[str, Any]
Bases = Mapping[str, Base]
PAGE_SIZE = 50
NAMESPACE = uuid.UUID("7b1c6a52-8d0e-4a1f-9c53-0c6f2f3f5d10")
FACTS = (
    *("name", "direction", "from_m", "to_m", "state"),
    *("season_from", "season_to", "reason", "source"),
)
# How a place stands to the pack that is served.
SERVED, NEW, CHANGED, LEAVING, GONE = "served", "new", "changed", "leaving", "gone"


@dataclass(frozen=True)
class Place:
    """One listed place; ``rev`` 0 while only the route's files list it."""

    id: uuid.UUID
    rev: int
    line_key: str
    key: str
    name: str
    direction: str
    from_m: float
    to_m: float
    state: str
    season_from: str
    season_to: str
    reason: str
    source: str
    stands: str
    changed_at: datetime | None = None
    changed_by: str = ""
    retired_at: datetime | None = None
    retired_why: str = ""

    @property
    def order(self) -> tuple[str, float, str]:
        return self.line_key, self.from_m, self.key


def place_id(line: str, key: str) -> uuid.UUID:
    """Return the id of a place; the same for its row in the files and in the register."""
    return uuid.uuid5(NAMESPACE, f"{line}/{key}")


@dataclass(frozen=True)
class Cursor:
    """A place in the list, in the order of lines and posts."""

    line: str
    from_m: float
    key: str

    def __str__(self) -> str:
        return f"{self.line}~{self.from_m!r}~{self.key}"

    @classmethod
    def read(cls, text: str) -> Cursor:
        """Read what `str` wrote; anything else is a ValueError."""
        line, from_m, key = text.split("~")
        return cls(storable(line), float(from_m), storable(key))

    @property
    def order(self) -> tuple[str, float, str]:
        return self.line, self.from_m, self.key


@dataclass(frozen=True)
class Page:
    places: list[Place]
    more: Cursor | None


def page(
    session: Session,
    bases: Bases,
    line: str | None,
    after: Cursor | None = None,
    *,
    retired: bool = False,
    size: int = PAGE_SIZE,
) -> Page:
    """Return one page of the register: those that are listed, or those that were retired."""
    query = select(ListedPlace).order_by(
        ListedPlace.line_key, ListedPlace.from_m, ListedPlace.key
    )
    gone = ListedPlace.retired_at
    query = query.where(gone.is_not(None) if retired else gone.is_(None))
    if line is not None:
        query = query.where(ListedPlace.line_key == line)
    if after is not None:
        here = tuple_(ListedPlace.line_key, ListedPlace.from_m, ListedPlace.key)
        query = query.where(here > tuple_(*after.order))
    rows = [_of_row(row, bases) for row in session.scalars(query.limit(size + 1))]
    if not retired:
        filed = of_files(session, {k: b for k, b in bases.items() if line in (None, k)})
        rows += [one for one in filed if after is None or one.order > after.order]
        rows.sort(key=lambda one: one.order)
    shown = rows[:size]
    more = Cursor(*shown[-1].order) if len(rows) > size else None
    return Page(shown, more)


def listed_now(session: Session, bases: Bases) -> list[Place]:
    """Return every place that is listed on these lines, by the packs or by the desk."""
    query = select(ListedPlace).where(
        ListedPlace.line_key.in_(bases), ListedPlace.retired_at.is_(None)
    )
    rows = [_of_row(row, bases) for row in session.scalars(query)]
    return [*of_files(session, bases), *rows]


def of_files(session: Session, bases: Bases) -> list[Place]:
    """Return the places that only the packs list: no row of the desk lies over them."""
    listed = [(line, one) for line, base in bases.items() for one in base.listed]
    if not listed:
        return []
    by_line: dict[str, list[str]] = {}
    for line, one in listed:
        by_line.setdefault(line, []).append(one.key)
    known = or_(
        *(
            and_(ListedPlace.line_key == line, ListedPlace.key.in_(keys))
            for line, keys in by_line.items()
        )
    )
    rows = session.execute(select(ListedPlace.line_key, ListedPlace.key).where(known))
    over = {(line, key) for line, key in rows}
    return [of_pack(line, one) for line, one in listed if (line, one.key) not in over]


def of_pack(line: str, entry: Listed) -> Place:
    """Return a place that a pack lists as one of the register."""
    return Place(
        place_id(line, entry.key), 0, line, entry.key, **facts_of(entry), stands=SERVED
    )


def facts_of(entry: Listed) -> Json:
    first, last = entry.season or ("", "")
    same = ("name", "state", "reason", "source", "from_m", "to_m")
    return {
        **{name: getattr(entry, name) for name in same},
        **{"direction": entry.directions[0], "season_from": first, "season_to": last},
    }


def facts(row: ListedPlace | Place) -> Json:
    """Return what a place says, without who changed it when."""
    return {name: getattr(row, name) for name in FACTS}


def _of_row(row: ListedPlace, bases: Bases) -> Place:
    names = (
        *("id", "rev", "line_key", "key", "changed_at", "changed_by"),
        *("retired_at", "retired_why"),
    )
    said: Json = {name: getattr(row, name) for name in (*names, *FACTS)}
    return Place(**said, stands=_stands(row, bases.get(row.line_key)))


def _stands(row: ListedPlace, base: Base | None) -> str:
    """Say how a row of the desk stands to the pack that is served."""
    listed = () if base is None else base.listed
    served = next((one for one in listed if one.key == row.key), None)
    if row.retired_at is not None:
        return GONE if served is None else LEAVING
    if served is None:
        return NEW
    return SERVED if facts_of(served) == facts(row) else CHANGED


def find(session: Session, bases: Bases, name: uuid.UUID) -> Place | None:
    """Return one place by its id, None if nobody lists it."""
    row = session.get(ListedPlace, name)
    if row is not None:
        return _of_row(row, bases)
    return next(
        (
            of_pack(line, one)
            for line, base in bases.items()
            for one in base.listed
            if place_id(line, one.key) == name
        ),
        None,
    )


def entries(session: Session, line: str) -> list[Json]:
    """Return the register of a line as a pack build takes it; empty where nothing was decided.

    What was retired is in it too: it takes the place out of the route's files.
    """
    query = select(ListedPlace).where(ListedPlace.line_key == line)
    rows = session.scalars(query.order_by(ListedPlace.from_m, ListedPlace.key))
    return [
        {"key": row.key, "retired": row.retired_at is not None, **facts(row)} for row in rows
    ]


def waiting(session: Session, bases: Bases) -> dict[str, dict[str, list[str]]]:
    """Return what the next pack of each line changes: names of places by what happens.

    Lines whose next pack lists what the served one lists are left out. The route's files
    may have changed as well; only the command that builds knows that.
    """
    found: dict[str, dict[str, list[str]]] = {}
    for row in session.scalars(select(ListedPlace).where(ListedPlace.line_key.in_(bases))):
        stands = _stands(row, bases[row.line_key])
        if stands in (NEW, CHANGED, LEAVING):
            found.setdefault(row.line_key, {}).setdefault(stands, []).append(row.name)
    return found


def compared(before: Iterable[Listed], after: Iterable[Listed]) -> list[tuple[str, Listed]]:
    """Return the listed places that are new, changed or leaving between two packs."""
    old = {one.key: one for one in before}
    new = {one.key: one for one in after}
    found = [(NEW, one) for key, one in new.items() if key not in old]
    found += [(CHANGED, one) for key, one in new.items() if key in old and old[key] != one]
    return found + [(LEAVING, one) for key, one in old.items() if key not in new]
