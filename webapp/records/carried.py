"""What a tablet could not send, carried to the depot as its file of unsent items.

The file's `batch` is a delivery as POST /api/outbox takes it, so each item is checked, kept
once and answered for as if the tablet had sent it: should it have come after all, or come
later, it is the same report.
"""

from __future__ import annotations

import uuid
from dataclasses import dataclass
from datetime import datetime
from typing import Any

import marshmallow as ma
from sqlalchemy.orm import Session

from webapp.plain import jsontext
from webapp.plain.fields import Strict, choice, fault_sentences
from webapp.records import not_enrolled as strangers
from webapp.records import outbox, tablets
from webapp.records.items import Delivery
from webapp.records.outbox_schemas import BatchIn
from webapp.store import audit

FORMAT, VERSION = "step-in-hand/unsent", 1
# More than a tablet ever holds; a file beyond it was not written by the app.
MOST_ITEMS = 2000
APART = "kept apart"
RESULTS = ("created", "duplicate", "rejected", "retry", "removed", APART)


class FileIn(Strict):
    """The whole file. Of `rows` and `unreadable` only how many is used: they help a reader."""

    format = choice(FORMAT, required=True)
    version = ma.fields.Raw(required=True, validate=lambda version: _version(version))
    batch = ma.fields.Nested(BatchIn, required=True)
    rows = ma.fields.List(ma.fields.Raw(), load_default=list)
    unreadable = ma.fields.List(ma.fields.Raw(), load_default=list)


class Unread(Exception):
    """The file was not taken in, and nothing was changed; ``faults`` are sentences."""

    def __init__(self, faults: list[str]) -> None:
        super().__init__(" ".join(faults))
        self.faults = faults


@dataclass(frozen=True)
class Taken:
    """What became of each item of a file, and how many the tablet itself could not read."""

    results: list[outbox.Result]
    unreadable: int

    def count(self, word: str) -> int:
        """Return how many items were answered so; `APART` are not among "retry"."""
        return sum(self.word(result) == word for result in self.results)

    def word(self, result: outbox.Result) -> str:
        """Return what became of an item, in the word that the page counts by."""
        return APART if result.code == outbox.NOT_COUNTED else result.result


def read(content: bytes) -> dict[str, Any]:
    """Read the file; raises `Unread` with every fault by its place in the file."""
    try:
        raw = jsontext.loads(content)
    except ValueError as error:
        raise Unread([f"This is no JSON file ({error}). Ask for the file again."]) from error
    if not isinstance(raw, dict):
        raise Unread(["This is not a file of unsent reports. Ask for the file again."])
    try:
        found: dict[str, Any] = FileIn().load(raw)
    except ma.ValidationError as error:
        raise Unread(fault_sentences(error.messages_dict)) from error
    if len(found["batch"]["items"]) > MOST_ITEMS:
        raise Unread([f"batch, items: more than {MOST_ITEMS}. This is no file of a tablet."])
    return found


def take_in(
    session: Session,
    content: bytes,
    who: str,
    now: datetime,
    device_id: uuid.UUID | None = None,
) -> Taken:
    """Keep what the file holds; ``device_id`` is the tablet it came from, if somebody says so.

    Without it the items are kept apart, as those of any stranger (R51). Raises `Unread`.
    """
    file = read(content)
    tablet = tablets.get(session, device_id) if device_id else None
    if device_id and tablet is None:
        raise Unread(["No such tablet is enrolled here. Choose it from the list of tablets."])
    batch = outbox.Batch(**file["batch"])
    delivery = Delivery(
        device_id=tablet.id if tablet else None,
        install_id=batch.install_id,
        sent_at=batch.sent_at,
        received_at=now,
        enrolled_at=tablet.enrolled_at if tablet else None,
        ended_at=tablet.revoked_at if tablet else None,
        carried=True,
        offered=outbox.offered(batch),
    )
    room = None if delivery.enrolled else strangers.by_hand(session, MOST_ITEMS)
    results = outbox.keep_all(session, delivery, batch.items, room)
    taken = Taken(results, len(file["unreadable"]))
    counts = {word: taken.count(word) for word in RESULTS}
    # Not which tablet: the audit is for ever, and would tie the reports to it.
    subject = "enrolled tablet" if tablet else "unknown tablet"
    audit.record(session, now, who, "outbox.carried", subject, None, counts)
    return taken


def said(result: outbox.Result) -> list[str]:
    """Return why an item was refused, field by field."""
    return fault_sentences(result.errors or {})


def _version(version: Any) -> None:
    if version != VERSION or isinstance(version, bool):
        raise ma.ValidationError("This server reads version 1 only. Update the server.")
