"""What the outbox and the keepers of its items tell each other, whatever the kind of item."""

from __future__ import annotations

import uuid
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta
from typing import Any

import marshmallow as ma
from sqlalchemy.orm import Session

from webapp.plain.fields import EARLIEST, LATEST


@dataclass(frozen=True)
class Delivery:
    """The circumstances in which an item came: who, by which clock, when."""

    device_id: uuid.UUID | None
    install_id: uuid.UUID
    sent_at: datetime
    received_at: datetime
    # When its tablet was enrolled, and ended if it was; None: nobody knows the tablet.
    enrolled_at: datetime | None
    ended_at: datetime | None = None
    # A file carried by hand says when it was written, not when it came: its tablet's clock
    # is taken as right, or every report would be moved by the hours in a pocket.
    carried: bool = False
    # What the tablet delivered before an older copy was put back: its number by id, if any.
    offered: Mapping[uuid.UUID, int | None] = field(default_factory=dict)
    # How many items came at once: so many numbers may be needed.
    items: int = 1
    # The server's own clock is the wrong one: it corrects nothing then.
    server_in_doubt: bool = False

    @property
    def clock_offset(self) -> timedelta:
        """What must be added to the tablet's clock; holds the time on the way as well."""
        return timedelta(0) if self.carried else self.received_at - self.sent_at

    @property
    def enrolled(self) -> bool:
        """Whether its tablet is enrolled now."""
        return self.enrolled_at is not None and self.ended_at is None

    def counts(self, observed_at: datetime | None) -> bool:
        """Whether an item counts: its tablet is enrolled, or was when it saw this.

        What a tablet saw before it was enrolled counts as well, once it is: a person at the
        desk has said whose tablet it is.
        """
        if self.enrolled_at is None or self.ended_at is None:
            return self.enrolled
        return observed_at is not None and (
            self.enrolled_at <= self.corrected(observed_at) < self.ended_at
        )

    def corrected(self, by_tablet: datetime) -> datetime:
        """Return what the server's clock showed then, or the nearest time there is.

        By the tablet's where the server's is in doubt.
        """
        offset = timedelta(0) if self.server_in_doubt else self.clock_offset
        try:
            return by_tablet.astimezone(UTC) + offset
        except OverflowError:
            return EARLIEST if self.clock_offset < timedelta(0) else LATEST


@dataclass(frozen=True)
class Kept:
    """An item in the database: what every repeat is answered with.

    `server_no` is None for a kind that nobody at the depot speaks of by number.
    """

    server_no: int | None
    received_at: datetime
    payload_sha: str
    new: bool


class Refused(Exception):
    """Raised by a keeper for an item that no repeat can make good; the tablet parks it."""

    def __init__(self, code: str, errors: dict[str, Any]) -> None:
        super().__init__(code)
        self.code, self.errors = code, errors


class Removed(Exception):
    """Raised by a keeper for what was removed on request: it does not come back."""


# (session, delivery, the checked item, the item as sent, its fingerprint). Insert unless the
# id is taken, and return what is there: no look before, two requests may carry one item.
Keep = Callable[[Session, Delivery, dict[str, Any], dict[str, Any], str], Kept]


@dataclass(frozen=True)
class Parked:
    """An item that was refused: what was sent, its fingerprint, and what it was told."""

    raw: dict[str, Any]
    payload_sha: str
    code: str
    errors: dict[str, Any] | None


@dataclass(frozen=True)
class Kind:
    """A kind of item: what it must look like (with `kind` and `id`) and who keeps it.

    `parked` is told of each item of this kind that was refused.
    """

    schema: ma.Schema
    keep: Keep
    parked: Callable[[Session, Delivery, Parked], None] | None = None
