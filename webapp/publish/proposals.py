"""From a built pack to tablets: proposed, compared, approved, put in use, put back.

No change of a line reaches a tablet without a person having seen what it does. What asks
less of a driver than before needs a second person; what only begins earlier, is lighter or
takes advice away needs one.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from typing import Any

from sqlalchemy import select
from sqlalchemy.orm import Session

from webapp.lines import in_use
from webapp.lines.rows import IndexRev, PackFile
from webapp.packs.compare import Comparison, Parts, compare
from webapp.packs.files import Pack
from webapp.packs.levels import NoLevel, level_of, with_level
from webapp.packs.source import freeze
from webapp.publish import service
from webapp.publish.keys import DepotKey
from webapp.publish.models import PackProposal
from webapp.store import audit

Json = dict[str, Any]
QUEUED, BUILDING, STOPPING = "queued", "building", "stopping"
STOPPED, FAILED, PROPOSED = "stopped", "failed", "proposed"
PUBLISHED, DROPPED = "published", "dropped"
#: A builder works on these or will; a page that shows one asks again by itself.
AT_WORK = (QUEUED, BUILDING, STOPPING)
OPEN = (*AT_WORK, STOPPED, FAILED, PROPOSED)
#: Why a pack was made or is wanted again.
CAUSES = {
    "files": "route files from the command line",
    "desk": "built at the desk from the route's last files and the register of places",
    "earlier": "an earlier pack, put back",
}
MOST_SHOWN = 50
REASON_LONGEST = 500


class NoSuchProposal(LookupError):
    """No proposal has this number, or it is not open any more."""


class NotPossible(Exception):
    """What was asked cannot be done with this proposal now; the message says what can."""


@dataclass(frozen=True)
class Spell:
    """One pack of a line and when it came into use; `until` None: it is in use."""

    pack: str
    since: datetime
    until: datetime | None
    source: str | None
    made_by: str | None
    approved_by: str | None
    reason: str | None


def current_pack(session: Session, route: str) -> str | None:
    """Return the pack of a line that tablets are given now."""
    routes = service.current(session).routes
    return next((str(one["pack"]) for one in routes if one["key"] == route), None)


def last_pack(session: Session, route: str) -> str | None:
    """Return the pack in use, or after a withdrawal the one that was."""
    spells = history(session, route)
    return spells[0].pack if spells else None


def parts(session: Session, pack: str) -> Parts:
    """Return what a comparison reads of a stored pack."""
    return Parts(in_use.part(session, pack, "base"), in_use.table(session, pack))


def comparison(session: Session, row: PackProposal, today: date) -> Comparison:
    """Compare a proposal with the pack it would follow."""
    if row.pack is None:
        raise NotPossible("This pack is not built yet.")
    old = parts(session, row.former) if row.former else None
    return compare(old, parts(session, row.pack), today)


def reasons(session: Session, row: PackProposal, found: Comparison) -> list[str]:
    """Return why a second person is needed, none where one is enough."""
    why = list(found.second)
    if not found.first and current_pack(session, row.route) is None:
        why.append("advice again after a withdrawal")
    if row.doubts:
        why.append("doubts that nobody confirmed")
    if row.former and len(set(levels(session, row))) > 1:
        why.append("another level of room")
    return why


def levels(session: Session, row: PackProposal) -> tuple[str, str]:
    """Return the levels of room before and of a proposal, "" where none is known."""
    before = source_of(session, row.former) if row.former else None
    found = (
        level_of(in_use.content(session, one)) if one else "" for one in (before, row.source)
    )
    was, now = found
    return was, now


def store(session: Session, pack: Pack) -> None:
    """Keep a built pack's files and its source; tablets are not told of it."""
    extra = [pack.source] if pack.source else []
    for file in (*pack.files, *extra):
        service.store_file(session, file)


def propose(
    session: Session,
    pack: Pack,
    who: str,
    reason: str,
    now: datetime,
    *,
    doubts: Sequence[str] = (),
    cause: str = "files",
) -> PackProposal:
    """Keep a built pack as a proposal."""
    store(session, pack)
    row = PackProposal(
        route=pack.route, name=pack.name, cause=cause, state=PROPOSED, made_by=who,
        made_at=now, reason=reason, register=[],
    )  # fmt: skip
    session.add(row)
    fill(session, row, pack, doubts)
    _recorded(session, row, "pack.proposed", who, now)
    return row


def fill(session: Session, row: PackProposal, pack: Pack, doubts: Sequence[str]) -> None:
    """Put what was built into a proposal."""
    row.state, row.pack, row.name = PROPOSED, pack.sha256, pack.name
    row.source = pack.source.sha256 if pack.source else None
    row.former, row.doubts = last_pack(session, pack.route), list(doubts)
    row.progress = row.problem = None
    session.flush()


def ask_build(
    session: Session,
    route: str,
    register: Sequence[Json],
    who: str,
    reason: str,
    now: datetime,
    *,
    room: str = "",
) -> PackProposal:
    """Queue a build of a line from the source of its pack and the register as it is now.

    ``room``: the level of room to build with; "": the one it has.

    Raises
    ------
    NotPossible
        If a build of this line waits already, its pack has no source here, or its route
        names no level.
    """
    if _open_of(session, route, AT_WORK):
        raise NotPossible("A build of this line is waiting or at work already.")
    last = last_pack(session, route)
    source = source_of(session, last) if last else None
    if last is None or source is None:
        raise NotPossible(
            "The files of this line are not here. On the server, once, with the route's "
            f"folder: step-in-hand pack propose FOLDER --login {who}"
        )
    if room:
        source = _with_level(session, source, room)
    row = PackProposal(
        route=route, name=in_use.base(session, last).name, cause="desk",
        state=QUEUED, source=source, register=[dict(one) for one in register],
        made_by=who, made_at=now, reason=reason, doubts=[],
    )  # fmt: skip
    session.add(row)
    session.flush()
    _recorded(session, row, "pack.asked", who, now)
    return row


def _with_level(session: Session, source: str, room: str) -> str:
    """Store a source with another level of room and return its name."""
    try:
        file = freeze(with_level(in_use.content(session, source), room))
    except (NoLevel, KeyError) as no:
        raise NotPossible(f"This line cannot be built with that level: {no}.") from None
    service.store_file(session, file)
    return file.sha256


def put_back(
    session: Session, route: str, pack: str, who: str, reason: str, now: datetime
) -> PackProposal:
    """Propose a pack that was in use before.

    Raises
    ------
    NotPossible
        If this pack never was in use on this line, or is in use now.
    """
    known = {spell.pack: spell for spell in history(session, route)}
    if pack not in known:
        raise NotPossible(f"{route} never had a pack {pack[:8]}.")
    if pack == current_pack(session, route):
        raise NotPossible(f"Pack {pack[:8]} of {route} is in use.")
    name = in_use.base(session, pack).name
    row = PackProposal(
        route=route, name=name, cause="earlier", state=PROPOSED, made_by=who, made_at=now,
        reason=reason, pack=pack, former=last_pack(session, route), doubts=[], register=[],
        source=known[pack].source,
    )  # fmt: skip
    session.add(row)
    session.flush()
    _recorded(session, row, "pack.proposed", who, now)
    return row


def approve(
    session: Session,
    number: int,
    who: str,
    now: datetime,
    key: DepotKey | None,
    today: date,
    *,
    demo: bool = False,
) -> service.Index:
    """Put a proposed pack in use; in a demo nobody else is asked.

    Raises
    ------
    NoSuchProposal
        If it is not open any more.
    NotPossible
        If it needs another person, is not built, or the line's pack changed since.
    """
    # The lock that every change of the index takes: two approvals come one after the other.
    service.lock(session)
    row = find(session, number, lock=True)
    if row.state != PROPOSED or row.pack is None:
        raise NotPossible("This proposal cannot be published now. Look at it again.")
    if row.former != last_pack(session, row.route):
        raise NotPossible(
            "Another pack of this line came into use since, so this comparison is out of "
            "date. Compare again, then publish."
        )
    why = reasons(session, row, comparison(session, row, today))
    if why and who == row.made_by and not demo:
        raise NotPossible(
            f"Another person has to approve this: {', '.join(why)}. You proposed it yourself."
        )
    index = service.put_in_use(session, row.pack, now, key)
    _decided(row, PUBLISHED, who, now, None)
    _recorded(session, row, "pack.published", who, now, second=why)
    return index


def compare_again(session: Session, number: int) -> None:
    """Set an overtaken proposal against the pack that is in use now."""
    row = find(session, number, lock=True)
    row.former = last_pack(session, row.route)


def drop(session: Session, number: int, who: str, reason: str, now: datetime) -> None:
    """Decline or take back a proposal."""
    row = find(session, number, lock=True)
    if row.state in (BUILDING, STOPPING):
        raise NotPossible("This pack is being built. Stop the build first.")
    _decided(row, DROPPED, who, now, reason)
    _recorded(session, row, "pack.dropped", who, now)


def stop(session: Session, number: int) -> None:
    """Ask the builder to leave a build; one that only waits ends at once."""
    row = find(session, number, lock=True)
    if row.state in AT_WORK:
        row.state = STOPPED if row.state == QUEUED else STOPPING


def resume(session: Session, number: int) -> None:
    """Queue a build again that was stopped or failed."""
    row = find(session, number, lock=True)
    if row.state in (STOPPED, FAILED) and row.source is not None:
        row.state, row.problem = QUEUED, None


def find(session: Session, number: int, *, lock: bool = False) -> PackProposal:
    """Return an open proposal.

    Raises
    ------
    NoSuchProposal
    """
    row = any_of(session, number, lock=lock)
    if row.state not in OPEN:
        raise NoSuchProposal(f"Proposal {number} was {row.state} by {row.decided_by} already.")
    return row


def any_of(session: Session, number: int, *, lock: bool = False) -> PackProposal:
    """Return a proposal, open or decided.

    Raises
    ------
    NoSuchProposal
    """
    query = select(PackProposal).where(PackProposal.id == number)
    row = session.scalar(query.with_for_update() if lock else query)
    if row is None:
        raise NoSuchProposal(f"There is no proposal {number}.")
    return row


def open_ones(session: Session) -> list[PackProposal]:
    """Return what waits for somebody, or for the builder, the newest first."""
    query = select(PackProposal).where(PackProposal.state.in_(OPEN))
    return list(session.scalars(query.order_by(PackProposal.id.desc()).limit(MOST_SHOWN)))


def _open_of(session: Session, route: str, states: Iterable[str]) -> list[PackProposal]:
    query = select(PackProposal).where(
        PackProposal.route == route, PackProposal.state.in_(list(states))
    )
    return list(session.scalars(query))


def history(session: Session, route: str) -> list[Spell]:
    """Return every pack a line ever had in use, the newest spell first."""
    spells: list[tuple[str, datetime, datetime | None]] = []
    for row in session.scalars(select(IndexRev).order_by(IndexRev.serial)):
        now = next((str(one["pack"]) for one in row.routes if one["key"] == route), None)
        last = spells[-1] if spells else None
        if last and last[2] is None and last[0] != now:
            spells[-1] = (last[0], last[1], row.published_at)
        if now and not (last and last[2] is None and last[0] == now):
            spells.append((now, row.published_at, None))
    made = _made(session, route)
    return [_spell(session, one, made) for one in reversed(spells)]


def _made(session: Session, route: str) -> list[PackProposal]:
    query = select(PackProposal).where(
        PackProposal.route == route, PackProposal.state == PUBLISHED
    )
    return list(session.scalars(query.order_by(PackProposal.id)))


def _spell(
    session: Session,
    one: tuple[str, datetime, datetime | None],
    made: Sequence[PackProposal],
) -> Spell:
    pack, since, until = one
    mine = [row for row in made if row.pack == pack and row.decided_at == since]
    row = mine[-1] if mine else None
    return Spell(
        pack,
        since,
        until,
        source_of(session, pack),
        row.made_by if row else None,
        row.decided_by if row else None,
        row.reason if row else None,
    )


def source_of(session: Session, pack: str) -> str | None:
    """Return the name of a pack's source, None where it was made before sources were kept."""
    found = in_use.content(session, pack).get("source")
    if found is None:
        return None
    kept = session.scalar(select(PackFile.sha).where(PackFile.sha == found))
    return str(kept) if kept else None


def _decided(
    row: PackProposal, state: str, who: str, now: datetime, reason: str | None
) -> None:
    row.state, row.decided_by, row.decided_at = state, who, now
    row.decided_why = reason


def _recorded(
    session: Session,
    row: PackProposal,
    what: str,
    who: str,
    now: datetime,
    second: Sequence[str] = (),
) -> None:
    session.flush()
    new: Json = {"number": row.id, "pack": row.pack, "cause": row.cause, "reason": row.reason}
    if row.made_by != who:
        new["proposed_by"] = row.made_by
    if second:
        new["second_person_for"] = list(second)
    if row.decided_why:
        new["reason"] = row.decided_why
    audit.record(session, now, who, what, row.route, {"pack": row.former}, new)
