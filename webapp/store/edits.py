"""One way to change what is kept: only as it was read, with a revision of its own."""

from __future__ import annotations

import uuid
from collections.abc import Mapping, Sequence
from datetime import datetime
from typing import Any, Protocol, TypeVar

from sqlalchemy import select
from sqlalchemy.orm import Session

from webapp.store.db import Base


class Faults(Exception):
    """Everything wrong with what was typed: each begins with the name of its field."""

    def __init__(self, faults: Sequence[str]) -> None:
        super().__init__("\n".join(faults))
        self.faults = list(faults)


class Stale(Exception):
    """Somebody else changed it since it was read, or it has ended; nothing was changed."""


class NothingChanged(Exception):
    """What was typed is what is kept already."""

    def __init__(self) -> None:
        super().__init__("Nothing was changed, so nothing was kept.")


class Signed(Protocol):
    """A row that says at which revision it is, and who brought it there."""

    rev: Any
    changed_at: Any
    changed_by: Any


Row = TypeVar("Row", bound=Base)


def locked(session: Session, model: type[Row], name: uuid.UUID) -> Row | None:
    """Return the row of this id, locked until the transaction ends."""
    found: Row | None = session.scalar(
        select(model).where(model.__table__.c.id == name).with_for_update()
    )
    return found


def revise(row: Signed, said: Mapping[str, Any], who: str, now: datetime) -> None:
    """Write fields into a locked row and give it its next revision."""
    for field, value in said.items():
        setattr(row, field, value)
    row.rev, row.changed_at, row.changed_by = row.rev + 1, now, who
