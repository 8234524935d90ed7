"""Log-ins as rows: ending the row ends the log-in at the next request."""

from __future__ import annotations

import uuid
from dataclasses import dataclass
from datetime import datetime, timedelta

from sqlalchemy import delete, select, update
from sqlalchemy.orm import Session

from webapp.plain import codes
from webapp.records.people.models import DeskSession, Person

IDLE = timedelta(minutes=60)
ABSOLUTE = timedelta(hours=12)
# Writing at each request would cost a disk sync a page.
NOTE_EVERY = timedelta(minutes=1)


@dataclass(frozen=True)
class Entered:
    """Who speaks, as the pages need it."""

    person_id: uuid.UUID
    login: str
    role: str
    manages_people: bool
    must_change: bool
    note_due: bool


def begin(session: Session, person_id: uuid.UUID, now: datetime) -> str:
    """Open a log-in and return its token; only the hash is kept."""
    token = codes.new_token()
    session.execute(delete(DeskSession).where(DeskSession.ends_at < now))
    session.add(
        DeskSession(
            token_sha=codes.sha(token),
            person_id=person_id,
            began_at=now,
            seen_at=now,
            ends_at=now + ABSOLUTE,
        )
    )
    return token


def find(session: Session, token: str, now: datetime) -> Entered | None:
    """Return who holds this token, None when it has ended, idled out or was disabled."""
    row = session.execute(
        select(DeskSession, Person)
        .join(Person, Person.id == DeskSession.person_id)
        .where(DeskSession.token_sha == codes.sha(token), Person.disabled_at.is_(None))
    ).one_or_none()
    if row is None:
        return None
    held, person = row
    if held.ends_at <= now or held.seen_at + IDLE <= now:
        return None
    return Entered(
        person.id,
        person.login,
        person.role,
        person.manages_people,
        person.must_change,
        note_due=held.seen_at + NOTE_EVERY <= now,
    )


def note(session: Session, token: str, now: datetime) -> None:
    """Keep an active log-in from idling out."""
    held = DeskSession.token_sha == codes.sha(token)
    session.execute(update(DeskSession).where(held).values(seen_at=now))


def end(session: Session, token: str) -> None:
    session.execute(delete(DeskSession).where(DeskSession.token_sha == codes.sha(token)))


def end_all(session: Session, person_id: uuid.UUID) -> None:
    session.execute(delete(DeskSession).where(DeskSession.person_id == person_id))


def end_everybody(session: Session) -> None:
    session.execute(delete(DeskSession))
