"""Take in a batch: check each item alone, keep each once, answer for each by name."""

from __future__ import annotations

import contextlib
import hashlib
import uuid
from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from datetime import datetime
from typing import Any

import marshmallow as ma
import rfc8785
from sqlalchemy.exc import DataError, IntegrityError
from sqlalchemy.orm import Session

from webapp.plain.fields import Strict
from webapp.plain.jsontext import any_bytes
from webapp.records import counts, seals, tablets
from webapp.records import not_enrolled as strangers
from webapp.records.items import Delivery, Keep, Kind, Parked, Refused, Removed
from webapp.records.outbox_schemas import ReportItem
from webapp.records.reports import clocks, together
from webapp.records.reports import service as reports
from webapp.records.warnings import service as warnings
from webapp.store import audit, depot
from webapp.store.db import reading, writing

# Why an item of a tablet that is not enrolled is to be offered again.
NOT_COUNTED, NO_ROOM, NOT_ENROLLED = "received_not_counted", "no_room", "not_enrolled"
UNKNOWN_FIELD = Strict.error_messages["unknown"]


@dataclass(frozen=True)
class Batch:
    """What a tablet sent at once: which store, when by its clock, and the items untouched."""

    install_id: uuid.UUID
    sent_at: datetime
    app_build: str
    items: list[Any]
    installed: bool | None = None
    offered: list[dict[str, Any]] = field(default_factory=list)


@dataclass(frozen=True)
class Result:
    """What became of one item."""

    id: str | None
    result: str
    server_no: int | None = None
    received_at: datetime | None = None
    code: str | None = None
    errors: dict[str, Any] | None = None


# Every kind of item a tablet may hand in; a room's keeper is added here and nowhere else.
KINDS: dict[str, Kind] = {
    "report": Kind(ReportItem(), reports.keep, reports.note_refused),
    "counts": counts.KIND,
    "receipt": warnings.RECEIPTS,
    "seal": seals.KIND,
}


@dataclass(frozen=True)
class Sender:
    """Where a batch came from: the cookie's token, the address; and whether disk is short."""

    token: str | None
    address: str = ""
    low_disk: bool = False


def hand_in(batch: Batch, sender: Sender, now: datetime) -> list[Result]:
    """Take a batch in and commit; the items' ids make a repeat harmless.

    Raises `not_enrolled.TurnedAway`, before anything is written, when a tablet that is not
    enrolled finds no room.
    """
    with reading() as session:
        tablet = tablets.known(session, sender.token)
        if tablet is None or not tablet.valid:
            strangers.turn_away(session, sender.address, now, low=sender.low_disk)
    with writing() as session:
        return take_in(session, batch, sender, now)


def take_in(session: Session, batch: Batch, sender: Sender, now: datetime) -> list[Result]:
    """Keep what can be kept; the caller commits and only then answers."""
    delivery = _delivery(session, batch, sender.token, now)
    if delivery.enrolled:
        return keep_all(session, delivery, batch.items)
    room = strangers.open_room(session, sender.address, now)
    results = keep_all(session, delivery, batch.items, room)
    strangers.close_room(session, room)
    return results


def keep_all(
    session: Session, delivery: Delivery, items: list[Any], room: strangers.Room | None = None
) -> list[Result]:
    """Keep what can be kept; return what became of each item, in their order.

    ``room`` is what a sender that is not enrolled may still fill.
    """
    depot.sure(session)
    delivery = replace(delivery, items=len(items))
    results = _take_together(session, delivery, items)
    # In order of id: two batches with the same reports must not lock each other crosswise.
    left = (index for index in range(len(items)) if index not in results)
    for index in sorted(left, key=lambda index: _name(items[index]) or ""):
        results[index] = _take_one(session, delivery, items[index], room)
    return [results[index] for index in range(len(items))]


def _take_together(
    session: Session, delivery: Delivery, items: list[Any]
) -> dict[int, Result]:
    """Keep the new reports of an enrolled tablet at once; whatever is odd is left out."""
    if not delivery.enrolled:
        return {}
    sent: dict[int, together.Sent] = {}
    for index, raw in enumerate(items):
        if isinstance(raw, dict) and raw.get("kind") == "report":
            with contextlib.suppress(ma.ValidationError):
                sent[index] = together.Sent(
                    KINDS["report"].schema.load(raw), raw, fingerprint(raw)
                )
    if len(sent) < 2:
        return {}
    in_order = sorted(sent.values(), key=lambda one: str(one.id))
    try:
        with session.begin_nested():
            kept = reports.keep_together(session, delivery, in_order)
            held = {one.id: one.payload_sha for one in in_order if one.id in kept}
            strangers.adopted_all(session, held)
    except (DataError, IntegrityError):  # one of them: each is tried alone
        return {}
    return {
        index: Result(
            items[index]["id"], "created", kept[one.id].server_no, kept[one.id].received_at
        )
        for index, one in sent.items()
        if one.id in kept
    }


def fingerprint(raw: Mapping[str, Any]) -> str:
    """Return the sha-256 of the item's canonical bytes (RFC 8785), whenever it was sent.

    What RFC 8785 has no bytes for (a number beyond 2^53, half a character) no kind of item
    takes either; such a refused item is named by its plain JSON.
    """
    unsent = {name: value for name, value in raw.items() if name != "sent_at"}
    try:
        content = rfc8785.dumps(unsent)
    except (rfc8785.CanonicalizationError, UnicodeEncodeError, RecursionError):
        content = any_bytes(unsent)
    return hashlib.sha256(content).hexdigest()


def _delivery(session: Session, batch: Batch, token: str | None, now: datetime) -> Delivery:
    tablet = tablets.known(session, token)
    if tablet is not None:
        tablets.heard(session, tablet, now, batch.app_build, batch.installed)
    return Delivery(
        device_id=tablet.id if tablet else None,
        install_id=batch.install_id,
        sent_at=batch.sent_at,
        received_at=now,
        enrolled_at=tablet.enrolled_at if tablet else None,
        ended_at=tablet.revoked_at if tablet else None,
        offered=offered(batch),
        server_in_doubt=tablet is not None
        and tablet.valid
        and clocks.server_in_doubt(session, tablet.id, batch.sent_at, now),
    )


def offered(batch: Batch) -> dict[uuid.UUID, int | None]:
    """Return what of a delivery the depot had once, with the numbers given then."""
    return {one["id"]: one["server_no"] for one in batch.offered}


def _take_one(
    session: Session, delivery: Delivery, raw: Any, room: strangers.Room | None
) -> Result:
    if not isinstance(raw, dict):
        return Result(None, "rejected", code="not_an_object")
    kind = KINDS.get(raw["kind"]) if isinstance(raw.get("kind"), str) else None
    if kind is None:
        known = {"kind": [f"Send one of: {', '.join(KINDS)}."]}
        return Result(_name(raw), "rejected", code="unknown_kind", errors=known)
    try:
        item = kind.schema.load(raw)
        if not delivery.counts(item.get("observed_at")):
            return _hold_one(session, delivery, item, raw, room)
        if room is not None and not room.take(len(any_bytes(raw))):
            return Result(raw["id"], "retry", code=NO_ROOM)
        result = _keep_one(session, delivery, kind.keep, item, raw)
    except ma.ValidationError as error:
        errors = dict(error.messages_dict)
        result = Result(_name(raw), "rejected", code=_code(errors), errors=errors)
    if result.code and result.result == "rejected" and kind.parked and delivery.enrolled:
        refused = Parked(raw, fingerprint(raw), result.code, result.errors)
        kind.parked(session, delivery, refused)
    return result


def _hold_one(
    session: Session,
    delivery: Delivery,
    item: dict[str, Any],
    raw: dict[str, Any],
    room: strangers.Room | None,
) -> Result:
    """Answer an item that does not count: its tablet keeps it until it is enrolled.

    "retry" is what every app keeps a report by and offers it again. The answer is the same
    whether or not the depot knows the id: it tells nobody what others sent.
    """
    if item["kind"] not in strangers.HELD or room is None:
        return Result(raw["id"], "retry", code=NOT_ENROLLED)
    payload_sha = fingerprint(raw)
    here = item["kind"] == "report" and reports.known(session, item["id"], payload_sha)
    if here or depot.is_removed(session, item["id"]):
        return Result(raw["id"], "retry", code=NOT_COUNTED)
    try:
        with session.begin_nested():
            held = strangers.hold(session, room, delivery, item, raw, payload_sha)
    except (DataError, IntegrityError):
        return Result(raw["id"], "retry", code="not_stored")
    return Result(raw["id"], "retry", code=NOT_COUNTED if held else NO_ROOM)


def take_over(
    session: Session, no: int, device_id: uuid.UUID, who: str, now: datetime
) -> Result:
    """Count an item that is held apart as that of a named tablet; a person has asked.

    Raises
    ------
    strangers.NotThere
        If it is not held any more.
    LookupError
        If that tablet is not enrolled.
    """
    held, tablet = strangers.get(session, no), tablets.get(session, device_id)
    if tablet is None or tablet.revoked_at is not None:
        raise LookupError("That tablet is not enrolled. Choose one of the list.")
    delivery = Delivery(
        device_id=tablet.id,
        install_id=held.install_id,
        sent_at=held.sent_at,
        received_at=held.received_at,
        enrolled_at=tablet.enrolled_at,
        carried=held.carried,
        # The number it had before such reports were held apart.
        offered={held.id: held.former_no} if held.former_no else {},
    )
    raw, former = held.item, held.former_no
    result = _take_one(session, delivery, raw, None)
    if result.result in ("created", "duplicate"):
        new = {"no": result.server_no, "former_no": former, "kind": raw["kind"]}
        # Not which tablet: the audit is for ever, and would keep a report tied to its tablet.
        audit.record(session, now, who, "not_enrolled.taken_in", raw["id"], None, new)
    return result


def _name(raw: Any) -> str | None:
    name = raw.get("id") if isinstance(raw, dict) else None
    return name if isinstance(name, str) else None


def _code(errors: Any) -> str:
    return "unknown_field" if UNKNOWN_FIELD in _sentences(errors) else "invalid"


def _sentences(errors: Any) -> list[str]:
    if isinstance(errors, dict):
        return [sentence for part in errors.values() for sentence in _sentences(part)]
    return [str(sentence) for sentence in errors]


def _keep_one(
    session: Session, delivery: Delivery, keep: Keep, item: dict[str, Any], raw: dict[str, Any]
) -> Result:
    payload_sha = fingerprint(raw)
    again = item["id"] in delivery.offered
    if again and depot.is_removed(session, item["id"]):
        return Result(raw["id"], "removed")
    try:
        # A savepoint: an item the database will not take must not take the others with it.
        with session.begin_nested():
            kept = keep(session, delivery, item, raw, payload_sha)
    except (DataError, IntegrityError):
        return Result(raw["id"], "retry", code="not_stored")
    except Removed:  # an app that did not offer it again knows no other answer
        return Result(raw["id"], "duplicate", received_at=delivery.received_at)
    except Refused as refusal:
        return Result(raw["id"], "rejected", code=refusal.code, errors=refusal.errors)
    if kept.payload_sha != payload_sha:
        _note_reuse(session, delivery, raw["id"], kept.payload_sha, payload_sha)
        return Result(raw["id"], "rejected", code="id_reused")
    if item["kind"] in strangers.HELD:
        strangers.adopted(session, item["id"], payload_sha)
    word = "created" if kept.new else "duplicate"
    return Result(raw["id"], word, kept.server_no, kept.received_at)


def _note_reuse(session: Session, delivery: Delivery, name: str, old: str, new: str) -> None:
    # Not which tablet: the audit is for ever, and would keep a report tied to its tablet.
    audit.record(
        session,
        delivery.received_at,
        "a tablet",
        "outbox.id_reused",
        name,
        {"payload_sha": old},
        {"payload_sha": new},
    )
