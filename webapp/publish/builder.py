"""Build in the background what the desk asked for: one builder, whoever starts it.

It runs as a process of its own, holds a lock file of the data folder while it works, and
writes a pack in one transaction: a build that is stopped or killed leaves nothing half done
and begins again.
"""

from __future__ import annotations

import fcntl
import logging
import multiprocessing
import os
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterator, Mapping
from contextlib import AbstractContextManager, contextmanager
from pathlib import Path
from typing import IO, Any, Protocol

from sqlalchemy import select, update

from webapp.lines import in_use
from webapp.packs.faults import RouteFaults
from webapp.packs.files import Pack
from webapp.packs.service import build_source, open_doubts
from webapp.publish import proposals, room
from webapp.publish.models import PackProposal
from webapp.publish.proposals import AT_WORK, BUILDING, FAILED, QUEUED, STOPPED, STOPPING
from webapp.store.db import reading, writing

LOCK = "builder.lock"
#: Between two looks whether somebody wants the build stopped. [s]
LOOKS = 1.0
MOST_FAULTS = 20
log = logging.getLogger(__name__)


class Stopped(Exception):
    """Somebody at the desk stopped this build."""


class Application(Protocol):
    """What a builder needs of the application: its settings and its database."""

    @property
    def config(self) -> Mapping[str, Any]: ...

    @property
    def extensions(self) -> dict[str, Any]: ...

    def app_context(self) -> AbstractContextManager[Any]: ...


def start(app: Application) -> None:
    """Start a builder beside this server; one that is at work already does it all."""
    environment = {**os.environ, "STEP_IN_HAND_DATABASE_URL": _database(app)}
    if not environment["STEP_IN_HAND_DATABASE_URL"]:
        del environment["STEP_IN_HAND_DATABASE_URL"]
    command = [sys.executable, "-m", "webapp.commands.cli", "pack", "builder"]
    app.extensions["builder"] = subprocess.Popen(
        [*command, "--data", str(app.config["DATA"])],
        env=environment,
        stdin=subprocess.DEVNULL,
        start_new_session=True,
    )


def start_if_waiting(app: Application) -> None:
    """Go on with what a server that stopped left behind."""
    with app.app_context(), reading() as session:
        query = select(PackProposal.id).where(PackProposal.state.in_(AT_WORK)).limit(1)
        waiting = session.scalar(query) or room.waiting(session)
    if waiting is not None:
        start(app)


def _database(app: Application) -> str:
    url = str(app.config["SQLALCHEMY_DATABASE_URI"])
    return "" if url.startswith("sqlite") else url


def work(app: Application) -> None:
    """Build all packs that wait, work out what is asked of room, then end.

    A second builder ends at once.
    """
    with _alone(Path(app.config["DATA"]) / LOCK) as mine, app.app_context():
        if not mine:
            return
        _begin_again()
        while True:
            if (number := _next()) is not None:
                _build(number)
            elif (route := _next_room()) is not None:
                _work_out(route)
            else:
                return


@contextmanager
def _alone(path: Path) -> Iterator[bool]:
    """Whether this process holds the lock; the system lets it go when the process ends."""
    with path.open("a") as file:
        yield _locked(file)


def _locked(file: IO[str]) -> bool:
    try:
        fcntl.flock(file, fcntl.LOCK_EX | fcntl.LOCK_NB)
    except OSError:
        return False
    return True


def _begin_again() -> None:
    """What a builder left when it was killed waits again, or is stopped as was asked."""
    with writing() as session:
        for was, now in ((BUILDING, QUEUED), (STOPPING, STOPPED)):
            change = update(PackProposal).where(PackProposal.state == was)
            session.execute(change.values(state=now, progress=None))


def _next() -> int | None:
    with writing() as session:
        query = select(PackProposal).where(PackProposal.state == QUEUED)
        row = session.scalar(query.order_by(PackProposal.id).limit(1).with_for_update())
        if row is None:
            return None
        row.state, row.progress = BUILDING, "begun"
        return row.id


def _next_room() -> str | None:
    with reading() as session:
        return room.waiting(session)


def _work_out(route: str) -> None:
    try:
        room.work_out(route)
    except room.Later:
        log.info("what a second buys on %s waits for a pack", route)
    except Exception:
        log.exception("working out what a second buys on %s failed", route)


def _build(number: int) -> None:
    try:
        pack, doubts = _built(number)
        with writing() as session:
            row = proposals.find(session, number, lock=True)
            if row.state == STOPPING:
                raise Stopped
            proposals.store(session, pack)
            if pack.sha256 == proposals.current_pack(session, row.route):
                _end(number, FAILED, "Nothing changed: this pack is in use already.")
                return
            proposals.fill(session, row, pack, doubts)
    except Stopped:
        for child in multiprocessing.active_children():
            child.terminate()
        _end(number, STOPPED, None)
    except RouteFaults as found:
        shown = [str(fault) for fault in found.faults[:MOST_FAULTS]]
        _end(number, FAILED, "\n".join(shown))
    except Exception as error:
        log.exception("building proposal %s failed", number)
        _end(number, FAILED, f"The build failed: {error}. The server's log has more.")


def _built(number: int) -> tuple[Pack, list[str]]:
    with reading() as session:
        row = proposals.find(session, number)
        source: dict[str, Any] = in_use.content(session, str(row.source))
        register = list(row.register)
        last = proposals.last_pack(session, row.route)
        former = in_use.part(session, last, "base") if last else None
    looked = 0.0

    def tell(what: str, done: int, of: int) -> None:
        nonlocal looked
        if time.monotonic() - looked < LOOKS:
            return
        looked = time.monotonic()
        with writing() as session:
            now = proposals.any_of(session, number, lock=True)
            if now.state == STOPPING:
                raise Stopped
            now.progress = f"{what}: {done} of {of} stops"

    with tempfile.TemporaryDirectory(prefix="step-in-hand-build-") as name:
        folder = Path(name)
        pack = build_source({**source, "register": register}, folder, tell)
        return pack, open_doubts(folder, register, former)


def _end(number: int, state: str, problem: str | None) -> None:
    with writing() as session:
        row = proposals.any_of(session, number, lock=True)
        row.state, row.problem, row.progress = state, problem, None
