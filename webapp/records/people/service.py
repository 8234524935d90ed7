"""People at the desk: make, change, disable, let in. Each action is in the audit."""

from __future__ import annotations

import re
import uuid
from dataclasses import dataclass
from datetime import datetime, timedelta

from sqlalchemy import delete, func, select
from sqlalchemy.orm import Session

from webapp.plain.addresses import network
from webapp.records.people import passwords, roles, sessions
from webapp.records.people.models import LogInAddress, Person
from webapp.records.people.roles import LEVELS
from webapp.store import audit, throttle

LOGIN = re.compile(r"[a-z0-9][a-z0-9._-]{1,59}")
NOBODY = "nobody"
# How long it is known from where somebody logged in, or tried to. Own choice.
ADDRESSES_KEPT = timedelta(days=30)


class Refused(Exception):
    """A change that cannot be made: the field it is about, and a sentence with the cure."""

    def __init__(self, field: str, sentence: str) -> None:
        super().__init__(sentence)
        self.field = field


class Throttled(Exception):
    """Too many failed tries; wait this many seconds."""

    def __init__(self, seconds: int) -> None:
        super().__init__(f"Too many tries. Wait {max(1, round(seconds / 60))} min.")
        self.seconds = seconds


@dataclass(frozen=True)
class Account:
    """One person as the pages show them."""

    id: uuid.UUID
    login: str
    role: str
    manages_people: bool
    made_at: datetime
    disabled_at: datetime | None
    version: int


@dataclass(frozen=True)
class Wanted:
    """A new account or a change to one."""

    login: str
    role: str
    manages_people: bool


def nobody_yet(session: Session) -> bool:
    return session.scalar(select(Person.id).limit(1)) is None


def everyone(session: Session) -> list[Account]:
    rows = session.scalars(
        select(Person).order_by(Person.disabled_at.isnot(None), Person.login)
    )
    return [_account(row) for row in rows]


def may(one: Account, need: roles.Need) -> bool:
    """Whether an account has a right."""
    return roles.may(one.role, one.manages_people, need)


def account(session: Session, person_id: uuid.UUID) -> Account | None:
    row = session.get(Person, person_id)
    return _account(row) if row else None


def make(
    session: Session, wanted: Wanted, password: str, who: str, now: datetime, *, own: bool
) -> uuid.UUID:
    """Make an account. ``own``: the person chose the password; else it is to be changed."""
    login = wanted.login.strip().lower()
    if not LOGIN.fullmatch(login):
        raise Refused(
            "login",
            "Use 2 to 60 small letters, digits, dots, dashes; begin with a letter or digit.",
        )
    if session.scalar(select(Person.id).where(Person.login == login)):
        raise Refused("login", f"There is an account {login} already. Choose another name.")
    _check_role(wanted.role)
    _check_password(password, login)
    person = Person(
        id=uuid.uuid4(),
        login=login,
        pass_hash=passwords.hashed(password),
        role=wanted.role,
        manages_people=wanted.manages_people,
        must_change=not own,
        made_at=now,
        version=1,
    )
    session.add(person)
    session.flush()
    audit.record(session, now, who, "person.made", login, {}, _rights(person))
    return person.id


def change(
    session: Session,
    person_id: uuid.UUID,
    wanted: Wanted,
    version: int,
    who: str,
    now: datetime,
) -> None:
    """Give an account other rights; a page that was overtaken is refused."""
    person = _current(session, person_id, version)
    _check_role(wanted.role)
    old = _rights(person)
    if person.manages_people and not wanted.manages_people:
        _keep_one_manager(session, person)
    person.role, person.manages_people = wanted.role, wanted.manages_people
    person.version += 1
    audit.record(session, now, who, "person.changed", person.login, old, _rights(person))


def disable(
    session: Session, person_id: uuid.UUID, version: int, who: str, now: datetime
) -> None:
    """Shut an account: every log-in of it ends with the next request."""
    person = _current(session, person_id, version)
    if person.disabled_at is not None:
        return
    if person.manages_people:
        _keep_one_manager(session, person)
    person.disabled_at = now
    person.version += 1
    sessions.end_all(session, person.id)
    audit.record(session, now, who, "person.disabled", person.login, {}, {})


def enable(
    session: Session, person_id: uuid.UUID, version: int, who: str, now: datetime
) -> None:
    person = _current(session, person_id, version)
    if person.disabled_at is None:
        return
    person.disabled_at = None
    person.version += 1
    audit.record(session, now, who, "person.enabled", person.login, {}, {})


def set_password(
    session: Session,
    person_id: uuid.UUID,
    password: str,
    who: str,
    now: datetime,
    *,
    own: bool,
) -> None:
    """Set a password; all log-ins of the account end, whoever held the old one is out."""
    person = session.get(Person, person_id)
    if person is None:
        raise Refused("login", "There is no such account any more.")
    _check_password(password, person.login)
    throttle.passed(session, throttle.OLD_PASSWORD, str(person_id))
    person.pass_hash = passwords.hashed(password)
    person.must_change = not own
    person.version += 1
    sessions.end_all(session, person.id)
    audit.record(session, now, who, "person.password", person.login, {}, {"own": own})


def log_out(session: Session, token: str, who: str, now: datetime) -> None:
    sessions.end(session, token)
    audit.record(session, now, who, "log-out", who, {}, {})


def log_everybody_out(session: Session) -> None:
    """End every log-in: of a copy that was put back nobody knows who was let in by it."""
    sessions.end_everybody(session)


def own_password_fits(session: Session, person_id: uuid.UUID, password: str) -> bool:
    person = session.get(Person, person_id)
    return person is not None and passwords.fits(person.pass_hash, password)


def check_tries(session: Session, login: str, address: str, now: datetime) -> None:
    """Count a try of this account from here, and of this address.

    Raises
    ------
    Throttled
        When it is one too many.
    """
    keys = ((throttle.ACCOUNT, _tried(login, address)), (throttle.ADDRESS, network(address)))
    _refuse([throttle.tried(session, limit, key, now) for limit, key in keys])


def check_own_tries(session: Session, person_id: uuid.UUID, now: datetime) -> None:
    """Count a try at one's present password; raises `Throttled` like `check_tries`."""
    _refuse([throttle.tried(session, throttle.OLD_PASSWORD, str(person_id), now)])


def _refuse(waits: list[timedelta | None]) -> None:
    longest = max((wait.total_seconds() for wait in waits if wait), default=0.0)
    if longest:
        raise Throttled(int(longest) + 1)


@dataclass(frozen=True)
class Tried:
    """What came of comparing login and password; ``person_id`` only if they belong."""

    login: str
    address: str
    known_as: str | None
    person_id: uuid.UUID | None


def compared(session: Session, login: str, password: str, address: str) -> Tried:
    """Compare login and password; slow on purpose, so never inside a writing transaction."""
    person = session.scalar(select(Person).where(Person.login == login.strip().lower()))
    fits = passwords.fits(person.pass_hash if person else None, password)
    inside = person is not None and fits and person.disabled_at is None
    return Tried(
        login,
        address,
        person.login if person else None,
        person.id if person and inside else None,
    )


def let_in(session: Session, tried: Tried, now: datetime) -> str | None:
    """Return a new log-in's token; None when login and password do not belong together.

    Both go to the audit; what was typed as a login only when there is such an account:
    people type passwords there. The address goes where it is forgotten in time.
    """
    key = _tried(tried.login, tried.address)
    name = tried.known_as or NOBODY
    if tried.person_id is None:
        audit.record(session, now, name, "log-in.refused", name, {}, {})
        _note_address(session, name, tried.address, now, let_in=False)
        return None
    throttle.passed(session, throttle.ACCOUNT, key)
    throttle.knew(session, throttle.ADDRESS, network(tried.address), now)
    audit.record(session, now, name, "log-in", name, {}, {})
    _note_address(session, name, tried.address, now, let_in=True)
    return sessions.begin(session, tried.person_id, now)


def _note_address(
    session: Session, login: str, address: str, now: datetime, *, let_in: bool
) -> None:
    forget_addresses(session, now)
    session.add(LogInAddress(at=now, login=login, address=address[:60], let_in=let_in))


def forget_addresses(session: Session, now: datetime) -> None:
    """Drop the addresses of log-ins that are past their days."""
    session.execute(delete(LogInAddress).where(LogInAddress.at < now - ADDRESSES_KEPT))


def addresses(session: Session, now: datetime) -> list[LogInAddress]:
    """Return from where people logged in, or tried to, the newest first."""
    query = select(LogInAddress).where(LogInAddress.at >= now - ADDRESSES_KEPT)
    return list(session.scalars(query.order_by(LogInAddress.id.desc()).limit(1000)))


def _tried(login: str, address: str) -> str:
    return f"{login.strip().lower()}\0{network(address)}"


def _current(session: Session, person_id: uuid.UUID, version: int) -> Person:
    person = session.scalar(select(Person).where(Person.id == person_id).with_for_update())
    if person is None:
        raise Refused("login", "There is no such account any more.")
    if person.version != version:
        raise Refused(
            "login", "Somebody changed this account since you opened it. Look at it again."
        )
    return person


def _keep_one_manager(session: Session, person: Person) -> None:
    others = session.scalar(
        select(func.count())
        .select_from(Person)
        .where(Person.manages_people, Person.disabled_at.is_(None), Person.id != person.id)
    )
    if not others:
        raise Refused(
            "manages_people",
            "One account must manage people. Give another one that right first.",
        )


def _check_role(role: str) -> None:
    if role not in LEVELS:
        raise Refused("role", f"Choose one of: {', '.join(LEVELS)}.")


def _check_password(password: str, login: str) -> None:
    fault = passwords.fault(password, login)
    if fault:
        raise Refused("password", fault)


def _rights(person: Person) -> dict[str, object]:
    return {"role": person.role, "manages_people": person.manages_people}


def _account(row: Person) -> Account:
    return Account(
        row.id,
        row.login,
        row.role,
        row.manages_people,
        row.made_at,
        row.disabled_at,
        row.version,
    )
