"""What tablets hand in that are not enrolled: a small store of their own, and its budget.

Anyone can send such a report, and it may be true. It may hold a person back, never release
anything: no rule, list or figure reads this store; elsewhere only a count of it is shown.
The tablet keeps its report and offers it again, so a row here may expire. Budgets and the
days are own choices, no source.
"""

from __future__ import annotations

import json
import shutil
import uuid
from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

from sqlalchemy import ColumnElement, and_, delete, func, or_, select, update
from sqlalchemy.dialects import postgresql, sqlite
from sqlalchemy.orm import Session

from webapp.plain import codes
from webapp.plain.addresses import network
from webapp.records.items import Delivery
from webapp.records.not_enrolled_rows import HeldItem, Spent
from webapp.store import audit
from webapp.store.db import insert_new

#: Kinds that are held; a count or a receipt says nothing to a person and waits on its tablet.
HELD = ("report", "seal")
OVERRUN, REPORTABLE, EXPECTED, GOOD, SEAL = 4, 3, 2, 1, 0
GRAVITY = {"good": GOOD, "expected": EXPECTED, "reportable": REPORTABLE}
WORDS = {OVERRUN: "overrun", REPORTABLE: "reportable", EXPECTED: "expected", GOOD: "good"}
KEPT = timedelta(days=30)
AT_ONCE = 50
LONGEST_WHY = 200
LARGEST = 2**63
ALL = "all"
SUBJECT = "tablets not enrolled"


@dataclass(frozen=True)
class Budget:
    """So many requests, rows and bytes in an hour, or rows and bytes held at once."""

    requests: int
    rows: int
    size: int


# An app of before this store tries every five minutes: ten such tablets behind one address.
OF_ADDRESS = Budget(120, 200, 512 * 1024)
OF_ALL = Budget(600, 1000, 4 * 1024 * 1024)
AT_MOST = Budget(0, 5000, 16 * 1024 * 1024)


class TurnedAway(Exception):
    """Nothing of the batch was read; the tablet keeps it and tries again."""

    def __init__(self, status: int, code: str, detail: str, wait: timedelta) -> None:
        super().__init__(detail)
        self.status, self.code, self.detail, self.wait = status, code, detail, wait


class NotThere(LookupError):
    """No such report is held here any more."""


@dataclass
class Room:
    """What may still be kept of one batch; ``senders`` pay for it."""

    rows: int
    size: int
    senders: tuple[str, ...] = ()
    window: datetime = datetime.min
    taken_rows: int = 0
    taken_size: int = 0

    def take(self, size: int) -> bool:
        """Use up one row of this size, if there is room."""
        if self.taken_rows >= self.rows or self.taken_size + size > self.size:
            return False
        self.taken_rows += 1
        self.taken_size += size
        return True


#: For a file that a person at the desk takes in.
def by_hand(session: Session, most: int) -> Room:
    """Return room for what a person carried here: no budget but that of the store."""
    rows, size = _left(session)
    return Room(min(most, rows), size)


@dataclass(frozen=True)
class Apart:
    """How many wait for a person, by gravity, and how many suspect wheel flats."""

    by_gravity: Mapping[int, int]
    flats: int = 0

    @property
    def count(self) -> int:
        return sum(self.by_gravity.values())

    @property
    def gravest(self) -> tuple[int, bool]:
        """The gravest kind, and whether flats are suspected: a flood changes that once."""
        return max(self.by_gravity, default=0), self.flats > 0

    @property
    def words(self) -> str:
        """Say how many there are and the gravest kind: one line for a page of others."""
        reports = self.count - self.by_gravity.get(SEAL, 0)
        if not reports:
            return f"{self.count} from tablets not enrolled"
        worst = max(self.by_gravity)
        n = self.by_gravity[worst]
        return f"{self.count} from tablets not enrolled, {n} {_says(n)} {WORDS[worst]}"


def _says(n: int) -> str:
    return "says" if n == 1 else "say"


def low_disk(folder: Path, floor_mb: int) -> bool:
    """Whether less than the floor is free where the depot's data lies."""
    return shutil.disk_usage(folder).free < floor_mb * 1_000_000


def turn_away(session: Session, address: str, now: datetime, *, low: bool) -> None:
    """Raise `TurnedAway` before anything is written: the disk or the hour has no room."""
    if low:
        raise TurnedAway(
            *(503, "disk_low"),
            "The depot's disk is nearly full: only enrolled tablets' reports are taken. This "
            "tablet is not enrolled: tell the depot. Nothing was kept; send again later.",
            timedelta(minutes=10),
        )
    window = _window(now)
    for sender, budget in (_sender(address), OF_ADDRESS), (ALL, OF_ALL):
        spent = session.get(Spent, (sender, window))
        if spent is not None and spent.requests >= budget.requests:
            raise TurnedAway(
                *(429, "too_many_not_enrolled"),
                "Too much came from tablets that are not enrolled. This tablet is not "
                "enrolled: tell the depot. Nothing was kept; send again later.",
                window + timedelta(hours=1) - now,
            )


def open_room(session: Session, address: str, now: datetime) -> Room:
    """Count one request and return what of its items may be kept; sweeps what expired."""
    window = _window(now)
    session.execute(delete(HeldItem).where(HeldItem.expires_at <= now))
    session.execute(delete(Spent).where(Spent.window < now - timedelta(days=1)))
    rows, size = _left(session)
    # "all" first, in every process: its row is locked until commit, and so is the store.
    senders = ALL, _sender(address)
    for sender, budget in zip(senders, (OF_ALL, OF_ADDRESS), strict=True):
        spent = _spend(session, sender, window, 1, 0, 0)
        rows = min(rows, budget.rows - spent[0])
        size = min(size, budget.size - spent[1])
    return Room(max(0, rows), max(0, size), senders, window)


def close_room(session: Session, room: Room) -> None:
    """Let the senders pay for what was kept."""
    for sender in room.senders:
        _spend(session, sender, room.window, 0, room.taken_rows, room.taken_size)


def _left(session: Session) -> tuple[int, int]:
    query = select(func.count(), func.coalesce(func.sum(HeldItem.size), 0))
    rows, size = session.execute(query.where(HeldItem.former_no.is_(None))).one()
    return AT_MOST.rows - rows, AT_MOST.size - int(size)


def _spend(
    session: Session, sender: str, window: datetime, requests: int, rows: int, size: int
) -> tuple[int, int]:
    """Add to what a sender used in this hour; return its rows and bytes."""
    lite = session.get_bind().dialect.name == "sqlite"
    more = {"requests": requests, "rows": rows, "size": size}
    statement = (sqlite.insert if lite else postgresql.insert)(Spent).values(
        sender=sender, window=window, **more
    )
    added = {name: getattr(Spent, name) + n for name, n in more.items()}
    statement = statement.on_conflict_do_update(
        index_elements=["sender", "window"], set_=added
    )
    used = session.execute(statement.returning(Spent.rows, Spent.size)).one()
    return used[0], used[1]


def _sender(address: str) -> str:
    return codes.sha(network(address))


def _window(now: datetime) -> datetime:
    return now.astimezone(UTC).replace(minute=0, second=0, microsecond=0)


def hold(
    session: Session,
    room: Room,
    delivery: Delivery,
    checked: Mapping[str, Any],
    raw: Mapping[str, Any],
    payload_sha: str,
) -> bool:
    """Keep one checked item, unless it is held already; False when there is no room."""
    key = HeldItem.id == checked["id"], HeldItem.payload_sha == payload_sha
    if session.scalar(select(HeldItem.no).where(*key)) is not None:
        return True
    size = len(json.dumps(raw))
    if not room.take(size):
        return False
    body = checked["body"]
    report = checked["kind"] == "report"
    row = {
        **{"id": checked["id"], "payload_sha": payload_sha, "kind": checked["kind"]},
        **{"install_id": delivery.install_id, "item": raw, "size": size},
        **{"sent_at": delivery.sent_at, "received_at": delivery.received_at},
        "observed_est_at": delivery.corrected(checked["observed_at"]),
        "carried": delivery.carried,
        "line_key": body["route"] if report else None,
        **{name: body[name] if report else None for name in ("direction", "target", "at_m")},
        "gravity": gravity(body) if report else SEAL,
        "flats": report and body["flats_suspected"],
        "expires_at": delivery.received_at + KEPT,
    }
    insert_new(session, HeldItem, row, key=("id", "payload_sha"), answer="no")
    return True


def gravity(body: Mapping[str, Any]) -> int:
    """Return how grave a report is; an overrun whatever the grip was."""
    return OVERRUN if "overrun" in (body.get("happened") or []) else GRAVITY[body["found"]]


def adopted(session: Session, name: uuid.UUID, payload_sha: str) -> None:
    """Drop what is held of an item that an enrolled tablet has handed in now."""
    here = HeldItem.id == name, HeldItem.payload_sha == payload_sha
    session.execute(delete(HeldItem).where(*here))


def adopted_all(session: Session, shas: Mapping[uuid.UUID, str]) -> None:
    """Drop what is held of items of an enrolled tablet, each with its fingerprint."""
    held = session.execute(
        select(HeldItem.id, HeldItem.payload_sha).where(HeldItem.id.in_(list(shas)))
    ).all()
    for name, sha in held:
        if shas[name] == sha:
            adopted(session, name, sha)


def waiting(session: Session) -> Apart:
    """Count what waits for a person."""
    return _counted(session, HeldItem.aside_at.is_(None))


def there(
    session: Session,
    line: str,
    direction: str,
    since: datetime,
    stretch: tuple[float, float],
    stops: Collection[str] | None,
) -> Apart:
    """Count what waits and is about a stretch; as `reports.latest_reportable` looks."""
    return _counted(session, _about(line, direction, since, stretch, stops))


def set_aside_there(
    session: Session,
    about: tuple[str, str, datetime, tuple[float, float], Collection[str] | None],
    why: str,
    who: str,
    now: datetime,
) -> int:
    """Set aside all that waits and is about a stretch, with the reason."""
    return _set_aside(session, _about(*about), why, who, now)


def _about(
    line: str,
    direction: str,
    since: datetime,
    stretch: tuple[float, float],
    stops: Collection[str] | None,
) -> ColumnElement[bool]:
    row = HeldItem
    nowhere = and_(row.at_m.is_(None), row.target.is_(None))
    at_a_stop = row.at_m.is_(None) if stops is None else row.target.in_(stops)
    return and_(
        *(row.aside_at.is_(None), row.line_key == line, row.direction == direction),
        *(row.received_at >= since, or_(row.at_m.between(*stretch), at_a_stop, nowhere)),
    )


def _counted(session: Session, which: ColumnElement[bool]) -> Apart:
    flats = func.count().filter(HeldItem.flats.is_(True))
    query = select(HeldItem.gravity, func.count(), flats).where(which)
    rows = session.execute(query.group_by(HeldItem.gravity)).all()
    return Apart({row[0]: row[1] for row in rows}, sum(row[2] for row in rows))


@dataclass(frozen=True)
class Page:
    """One page of what is held, the gravest first, and how many there are in all."""

    rows: Sequence[HeldItem]
    count: int
    number: int

    @property
    def pages(self) -> int:
        return max(1, -(-self.count // AT_ONCE))


def page(session: Session, number: int, *, aside: bool) -> Page:
    """Return one page of what waits, or of what was set aside."""
    which = HeldItem.aside_at.is_not(None) if aside else HeldItem.aside_at.is_(None)
    count = session.scalar(select(func.count()).select_from(HeldItem).where(which)) or 0
    order = HeldItem.gravity.desc(), HeldItem.received_at.desc(), HeldItem.no.desc()
    query = select(HeldItem).where(which).order_by(*order)
    rows = session.scalars(query.offset((number - 1) * AT_ONCE).limit(AT_ONCE)).all()
    return Page(rows, count, number)


def full(session: Session) -> bool:
    """Whether the store has no room for another report of usual size."""
    rows, size = _left(session)
    return rows <= 0 or size < 4096


def get(session: Session, no: int) -> HeldItem:
    """Return one item; raises `NotThere`."""
    row = session.get(HeldItem, no) if no < LARGEST else None
    if row is None:
        raise NotThere("It is not held here any more: taken in, removed or expired.")
    return row


def set_aside(
    session: Session, numbers: Collection[int] | None, why: str, who: str, now: datetime
) -> int:
    """Mark some, or all that wait, as looked at and not used; return how many."""
    which: ColumnElement[bool] = HeldItem.aside_at.is_(None)
    if numbers is not None:
        which = and_(which, HeldItem.no.in_(numbers))
    return _set_aside(session, which, why, who, now)


def _set_aside(
    session: Session, which: ColumnElement[bool], why: str, who: str, now: datetime
) -> int:
    marks = {"aside_at": now, "aside_by": who, "aside_why": why}
    done = session.execute(update(HeldItem).where(which).values(**marks)).rowcount  # type: ignore[attr-defined]
    return _noted(session, done, "not_enrolled.set_aside", why, who, now)


def remove(
    session: Session,
    numbers: Collection[int] | None,
    why: str,
    who: str,
    now: datetime,
    *,
    aside: bool = False,
) -> int:
    """Delete some, or all that wait or were set aside; the tablet keeps its own."""
    which = HeldItem.aside_at.is_not(None) if aside else HeldItem.aside_at.is_(None)
    if numbers is not None:
        which = HeldItem.no.in_(numbers)
    done = session.execute(delete(HeldItem).where(which)).rowcount  # type: ignore[attr-defined]
    return _noted(session, done, "not_enrolled.removed", why, who, now)


def _noted(session: Session, done: int, what: str, why: str, who: str, now: datetime) -> int:
    # One row for the action, however many there were: what anyone may send is not audited.
    if done:
        audit.record(session, now, who, what, SUBJECT, None, {"reports": done, "reason": why})
    return done
