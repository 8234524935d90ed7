"""Count and do what is due to go, and take one person out of one report."""

from __future__ import annotations

import uuid
from collections.abc import Mapping
from dataclasses import asdict, dataclass
from datetime import datetime, timedelta
from typing import Any

from sqlalchemy import Select, select, union_all
from sqlalchemy.orm import Session

from webapp.records import control, seals, tablets
from webapp.records.people import service as people
from webapp.records.reports import anonymise as anonymise_
from webapp.records.reports import own as own_
from webapp.records.warnings import service as warnings
from webapp.store import audit
from webapp.store.db import folder_of

Due = anonymise_.Due
Held = anonymise_.Held
StillNeeded = anonymise_.StillNeeded


@dataclass(frozen=True)
class Rules:
    """How many days names, and words with tablets, are kept."""

    names: int
    words: int

    @classmethod
    def of(cls, config: Mapping[str, Any]) -> Rules:
        return cls(int(config["KEEP_NAMES_DAYS"]), int(config["KEEP_WORDS_DAYS"]))

    def before(self, now: datetime) -> tuple[datetime, datetime]:
        """Return the times before which a report came that is to lose names, and words.

        A name never outlives the words beside it.
        """
        words = timedelta(days=self.words)
        return now - min(timedelta(days=self.names), words), now - words


@dataclass(frozen=True)
class Tidied:
    """What went: names, and reports of which nothing tells of a person any more."""

    names: int
    words: int


def due(session: Session, rules: Rules, now: datetime) -> Due:
    """Count what the next tidy would take, and what it leaves because it is needed."""
    return anonymise_.due(session, *rules.before(now), _needed())


def tidy(session: Session, rules: Rules, who: str, now: datetime) -> Tidied:
    """Do what `due` counts, in one transaction, and write numbers into the audit."""
    people.forget_addresses(session, now)
    done = Tidied(*anonymise_.anonymise_old(session, *rules.before(now), _needed(), now))
    if done.names or done.words:
        audit.record(session, now, who, "depot.tidied", "reports", {}, asdict(done))
    return done


def _needed() -> Select[uuid.UUID | None]:
    """Name the reports of living warnings and drafts, and those named in a seal."""
    named = union_all(warnings.reports_needed(), seals.reports_needed()).subquery()
    return select(named.c[0])


def own(
    session: Session, token: str | None, name: uuid.UUID
) -> tuple[bool, dict[str, Any] | None]:
    """Return whether an enrolled tablet asks, and all that is held about its own report."""
    tablet = tablets.known(session, token)
    if tablet is None or not tablet.valid:
        return False, None
    found = own_.own(session, tablet.id, name)
    if found is None:
        return True, None
    made, wheels = warnings.made_from(session, name), control.checked(session, name)
    return True, {
        **found,
        "warnings": made,
        "wheels": wheels,
        "seals": seals.naming(session, name),
    }


def held(session: Session, number: int) -> Held | None:
    """Return what is held of a person about the report with this number."""
    return anonymise_.held(session, number)


def anonymise(session: Session, found: Held, who: str, now: datetime) -> int:
    """Delete name, words and tablet of a report and its corrections; the grip fact stays.

    Raises
    ------
    StillNeeded
        While one of them waits for the desk.
    """
    gone = anonymise_.anonymise(session, found.id, who, now)
    # On the disk before the commit: no older copy that is put back brings one of them back.
    folder_of(session).remove(gone)
    return len(gone)
