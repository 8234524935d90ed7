"""What a second buys on a line: asked for at the desk, worked out by the builder, kept.

The last result of each line stays until another is there. Nothing of it reaches a tablet.
"""

from __future__ import annotations

import tempfile
from collections.abc import Callable, Mapping
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

from sqlalchemy import select
from sqlalchemy.orm import Session

from webapp.lines import in_use
from webapp.packs.levels import NoLevel, level_of, with_level
from webapp.packs.read import read_route
from webapp.packs.room_study import study
from webapp.packs.source import write_source
from webapp.publish import proposals
from webapp.publish.models import PackProposal, RoomStudy
from webapp.store.db import reading, writing

Json = dict[str, Any]
WAITING = "waiting"
Tell = Callable[[str, int, int], None]


class Later(Exception):
    """A pack waits to be built: that comes first."""


def of_line(session: Session, route: str) -> RoomStudy | None:
    """Return what was worked out, or is being worked out, for a line."""
    return session.get(RoomStudy, route)


def source_in_use(session: Session, route: str) -> str | None:
    """Return the name of the source of a line's last pack, None where it is not here."""
    last = proposals.last_pack(session, route)
    return proposals.source_of(session, last) if last else None


def level_in(session: Session, source: str | None) -> str:
    """Return the key of the level that a stored source names, "" where it names none."""
    return level_of(in_use.content(session, source)) if source else ""


def same_line(session: Session, one: str, other: str) -> bool:
    """Whether two sources differ in nothing but their level of room."""
    sources = [in_use.content(session, sha) for sha in (one, other)]
    try:
        first, second = (with_level(source, "none") for source in sources)
    except NoLevel:
        return one == other
    return first == second


def ask(session: Session, route: str, who: str, now: datetime) -> None:
    """Queue the working out for a line from the source of its pack.

    Raises
    ------
    NotPossible
        If it waits or is at work, or the line's files are not here.
    """
    source = source_in_use(session, route)
    if source is None:
        raise proposals.NotPossible("The files of this line are not here.")
    row = of_line(session, route)
    if row is None:
        row = RoomStudy(route=route, result=None)
        session.add(row)
    elif row.progress:
        raise proposals.NotPossible("It is being worked out already.")
    row.source, row.asked_by, row.asked_at = source, who, now
    row.progress, row.problem = WAITING, None


def waiting(session: Session) -> str | None:
    """Return a line for which something is asked or was left half done."""
    query = select(RoomStudy.route).where(RoomStudy.progress.is_not(None))
    return session.scalar(query.order_by(RoomStudy.asked_at).limit(1))


def work_out(route: str) -> None:
    """Work out what is asked for a line and keep it; a failure says why on its page.

    Raises
    ------
    Later
        Begun again once no pack waits.
    """
    with reading() as session:
        row = of_line(session, route)
        assert row is not None
        source: Mapping[str, Any] = in_use.content(session, row.source)
    try:
        result = _studied(source, lambda what, done, of: _tell(route, what, done, of))
    except Later:
        _end(route, progress=WAITING)
        raise
    except Exception as error:
        _end(route, problem=f"It failed: {error}. The server's log has more.")
        raise
    _end(route, result=result, done_at=datetime.now(UTC))


def _studied(source: Mapping[str, Any], tell: Tell) -> Json:
    with tempfile.TemporaryDirectory(prefix="step-in-hand-room-") as name:
        folder = Path(name)
        register = write_source(dict(source), folder)
        return study(read_route(folder, register), tell)


def _tell(route: str, what: str, done: int, of: int) -> None:
    with writing() as session:
        query = select(PackProposal.id).where(PackProposal.state == proposals.QUEUED).limit(1)
        if session.scalar(query) is not None:
            raise Later
        row = of_line(session, route)
        assert row is not None
        row.progress = f"{what}: {done} of {of}"


def _end(route: str, **fields: Any) -> None:
    with writing() as session:
        row = of_line(session, route)
        assert row is not None
        for name, value in ({"progress": None, "problem": None} | fields).items():
            setattr(row, name, value)
