"""Keep the new reports of one delivery in a few statements, whatever their number.

What a report costs one by one is not the disk but the building of seven statements for it.
Here the database is asked once which are there, and told once of those that are not. Any
report this leaves out goes through `service.keep`, which answers for every case.
"""

from __future__ import annotations

import uuid
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from sqlalchemy import Insert, insert, select
from sqlalchemy.dialects import postgresql, sqlite
from sqlalchemy.orm import Session

from webapp.records.items import Delivery
from webapp.records.reports.models import Report, ReportWords
from webapp.records.reports.search import searched


@dataclass(frozen=True)
class Sent:
    """One report that was checked: as it was read, as it was sent, and its fingerprint."""

    checked: dict[str, Any]
    raw: dict[str, Any]
    payload_sha: str

    @property
    def id(self) -> uuid.UUID:
        found: uuid.UUID = self.checked["id"]
        return found


def not_there(session: Session, sent: Sequence[Sent]) -> list[Sent]:
    """Return those whose id is not in the database."""
    asked = select(Report.id).where(Report.id.in_([one.id for one in sent]))
    there = set(session.scalars(asked))
    return [one for one in sent if one.id not in there]


def insert_all(session: Session, rows: Sequence[dict[str, Any]]) -> set[uuid.UUID]:
    """Insert rows with their numbers; return the ids of those that were new.

    Two requests may carry one report at the same time: the insert decides, and the row of
    the other one stays.
    """
    dialect = sqlite if session.get_bind().dialect.name == "sqlite" else postgresql
    statement = dialect.insert(Report.__table__).on_conflict_do_nothing(index_elements=["id"])
    made = session.execute(
        statement.returning(Report.__table__.c.id, Report.__table__.c.server_no), list(rows)
    )
    numbers = {row.id: row.server_no for row in made}
    words = [
        {"server_no": numbers[row["id"]], "words": searched(row["item"]["body"])}
        for row in rows
        if row["id"] in numbers
    ]
    if words:
        session.execute(_of_words(), words)
    return set(numbers)


def _of_words() -> Insert:
    return insert(ReportWords.__table__)  # type: ignore[arg-type]


def arrived(delivery: Delivery, sent: Sequence[Sent]) -> list[Sent]:
    """Return what may go together: never two of one id, nothing that had a number before."""
    ids = [one.id for one in sent]
    return [one for one in sent if ids.count(one.id) == 1 and one.id not in delivery.offered]
