"""Take in a batch: check each item alone, keep each once, answer for each by name."""

from __future__ import annotations

import hashlib
import uuid
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from typing import Any

import marshmallow as ma
import rfc8785
from sqlalchemy.exc import DataError, IntegrityError
from sqlalchemy.orm import Session

from webapp.arrival import Arrival, Keep, Kind, Refused
from webapp.audit import service as audit
from webapp.fields import Strict
from webapp.outbox.schemas import ReportItem
from webapp.reports import service as reports
from webapp.tablets import service as tablets

UNKNOWN_FIELD = Strict.error_messages["unknown"]


@dataclass(frozen=True)
class Batch:
    """One delivery of a tablet: who sent it, when by its clock, and the items untouched."""

    install_id: uuid.UUID
    sent_at: datetime
    app_build: str
    items: list[Any]


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
KINDS: dict[str, Kind] = {"report": Kind(ReportItem(), reports.keep)}


def take_in(session: Session, batch: Batch, token: str | None, now: datetime) -> list[Result]:
    """Keep what can be kept; the caller commits and only then answers."""
    arrival = _arrival(session, batch, token, now)
    results: dict[int, Result] = {}
    checked: list[tuple[int, Keep, dict[str, Any]]] = []
    for index, raw in enumerate(batch.items):
        outcome = _check(raw)
        if isinstance(outcome, Result):
            results[index] = outcome
        else:
            checked.append((index, *outcome))
    # In order of id: two batches with the same reports must not lock each other crosswise.
    for index, keep, item in sorted(checked, key=lambda entry: str(entry[2]["id"])):
        results[index] = _keep_one(session, arrival, keep, item, batch.items[index])
    return [results[index] for index in range(len(batch.items))]


def fingerprint(raw: Mapping[str, Any]) -> str:
    """Return the sha-256 of the item's canonical bytes (RFC 8785), whenever it was sent."""
    unsent = {name: value for name, value in raw.items() if name != "sent_at"}
    return hashlib.sha256(rfc8785.dumps(unsent)).hexdigest()


def _arrival(session: Session, batch: Batch, token: str | None, now: datetime) -> Arrival:
    tablet = tablets.known(session, token)
    if tablet is not None:
        tablets.heard(session, tablet, now, batch.app_build)
    return Arrival(
        device_id=tablet.id if tablet else None,
        install_id=batch.install_id,
        sent_at=batch.sent_at,
        received_at=now,
        quarantined=tablet is None or not tablet.valid,
    )


def _check(raw: Any) -> Result | tuple[Keep, dict[str, Any]]:
    if not isinstance(raw, dict):
        return Result(None, "rejected", code="not_an_object")
    name = raw.get("id") if isinstance(raw.get("id"), str) else None
    kind = raw.get("kind")
    if not isinstance(kind, str) or kind not in KINDS:
        known = {"kind": [f"Send one of: {', '.join(KINDS)}."]}
        return Result(name, "rejected", code="unknown_kind", errors=known)
    try:
        return KINDS[kind].keep, KINDS[kind].schema.load(raw)
    except ma.ValidationError as error:
        errors = dict(error.messages_dict)
        return Result(name, "rejected", code=_code(errors), errors=errors)


def _code(errors: Any) -> str:
    return "unknown_field" if UNKNOWN_FIELD in _sentences(errors) else "invalid"


def _sentences(errors: Any) -> list[str]:
    if isinstance(errors, dict):
        return [sentence for part in errors.values() for sentence in _sentences(part)]
    return [str(sentence) for sentence in errors]


def _keep_one(
    session: Session, arrival: Arrival, keep: Keep, item: dict[str, Any], raw: dict[str, Any]
) -> Result:
    payload_sha = fingerprint(raw)
    try:
        # A savepoint: an item the database will not take must not take the others with it.
        with session.begin_nested():
            kept = keep(session, arrival, item, raw, payload_sha)
    except (DataError, IntegrityError):
        return Result(raw["id"], "retry", code="not_stored")
    except Refused as refusal:
        return Result(raw["id"], "rejected", code=refusal.code, errors=refusal.errors)
    if kept.payload_sha != payload_sha:
        _note_reuse(session, arrival, raw["id"], kept.payload_sha, payload_sha)
        return Result(raw["id"], "rejected", code="id_reused")
    word = "created" if kept.new else "duplicate"
    return Result(raw["id"], word, kept.server_no, kept.received_at)


def _note_reuse(session: Session, arrival: Arrival, name: str, old: str, new: str) -> None:
    who = f"tablet {arrival.device_id or 'unknown'} install {arrival.install_id}"
    audit.record(
        session,
        arrival.received_at,
        who,
        "outbox.id_reused",
        name,
        {"payload_sha": old},
        {"payload_sha": new},
    )
