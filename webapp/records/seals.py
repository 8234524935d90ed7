"""Keep a seal once and as it was sent, and say whether its hash fits what it says."""

from __future__ import annotations

import hashlib
import uuid
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any

import marshmallow as ma
import rfc8785
import sqlalchemy as sa
from sqlalchemy import (
    JSON,
    BigInteger,
    ForeignKey,
    Index,
    Select,
    String,
    exists,
    func,
    insert,
    select,
)
from sqlalchemy.orm import Mapped, Session, mapped_column

from webapp.plain.agreed import LONGEST_LINE, MOST_ANSWER, MOST_SEALED
from webapp.plain.fields import Id, Integer, Moment, Strict, Text, choice, sha256
from webapp.records.items import Delivery, Kept, Kind
from webapp.records.reports import service as reports
from webapp.store import depot
from webapp.store.db import Base, UtcDateTime, insert_new

NUMBER = BigInteger().with_variant(sa.Integer, "sqlite")


class Seal(Base):
    """One press on one tablet, to the letter; triggers refuse to change or delete a row.

    Which tablet it was is not kept: with the reports that it names that would say who drove.
    """

    __tablename__ = "seal"
    __table_args__ = ({"sqlite_autoincrement": True},)

    no: Mapped[int] = mapped_column(NUMBER, primary_key=True, autoincrement=True)
    id: Mapped[uuid.UUID] = mapped_column(unique=True)
    payload_sha: Mapped[str] = mapped_column(String(64))
    body: Mapped[dict[str, Any]] = mapped_column(JSON)
    sealed_est_at: Mapped[datetime] = mapped_column(UtcDateTime)
    received_at: Mapped[datetime] = mapped_column(UtcDateTime)
    quarantined: Mapped[bool]


class SealedReport(Base):
    """A report that a seal of an enrolled tablet names: its words are not tidied away."""

    __tablename__ = "sealed_report"
    __table_args__ = (Index("ix_sealed_report_report_id", "report_id"),)

    seal_no: Mapped[int] = mapped_column(
        NUMBER, ForeignKey("seal.no"), primary_key=True, autoincrement=False
    )
    # No foreign key: a seal may come before the reports it names.
    report_id: Mapped[uuid.UUID] = mapped_column(primary_key=True)


KEY = MOST_ANSWER
MOST_LINES = 200
MOST_ANSWERS = 60
#: RFC 8785 has bytes for integers up to here, and no further.
LARGEST = 2**53 - 1


def _range(low: int, high: int) -> ma.validate.Range:
    return ma.validate.Range(low, high, error="Send a whole number from {min} to {max}.")


def _up_to(most: int) -> ma.validate.Length:
    return ma.validate.Length(max=most, error="Send at most {max}.")


class HeldRow(Strict):
    id = Id(required=True)
    rev = Integer(required=True, validate=_range(1, 2**31 - 1))


class PlainAnswer(ma.fields.Field[Any]):
    """A short text, a whole number, true, false or null: what has one spelling in JSON."""

    default_error_messages = {  # noqa: RUF012
        "plain": "Send a text of 1 to 120 characters, a whole number, true, false or null."
    }
    text = Text(KEY)

    def __init__(self, **kwargs: Any) -> None:
        kinds = {"type": ["string", "integer", "boolean"]}
        super().__init__(allow_none=True, metadata={**kinds, "minLength": 1}, **kwargs)

    def _deserialize(self, value: Any, *_args: Any, **_kwargs: Any) -> Any:
        if isinstance(value, str):
            return self.text.deserialize(value)
        whole = isinstance(value, int) or (isinstance(value, float) and value.is_integer())
        if isinstance(value, bool) or (whole and abs(value) <= LARGEST):
            return value
        raise self.make_error("plain")


class SealBody(Strict):
    """`sha256` is over the RFC 8785 bytes of the body without it."""

    sealed_at = Moment(required=True)
    app_build = Text(64, required=True)
    route = Text(KEY, required=True, allow_none=True)
    pack = sha256(required=True, allow_none=True)
    warnings = ma.fields.List(
        ma.fields.Nested(HeldRow), required=True, validate=_up_to(MOST_SEALED)
    )
    # Not asked of the tablets that sealed before they held any.
    restrictions = ma.fields.List(ma.fields.Nested(HeldRow), validate=_up_to(MOST_SEALED))
    card = ma.fields.List(Text(LONGEST_LINE), required=True, validate=_up_to(MOST_LINES))
    preparation = ma.fields.Dict(
        keys=Text(KEY), values=PlainAnswer(), required=True, validate=_up_to(MOST_ANSWERS)
    )
    clock_offset_s = Integer(
        required=True, allow_none=True, validate=_range(-LARGEST, LARGEST)
    )
    unsent = ma.fields.List(Id(), required=True, validate=_up_to(MOST_SEALED))
    sha256 = sha256(required=True)


class SealItem(Strict):
    kind = choice("seal", required=True)
    id = Id(required=True)
    seq = Integer(required=True, validate=_range(1, 2**31 - 1))
    observed_at = Moment(required=True)
    body = ma.fields.Nested(SealBody, required=True)


AT_ONCE = 50


@dataclass(frozen=True)
class Page:
    """Some seals, newest first, and behind which number it goes on."""

    seals: Sequence[Seal]
    more: int | None


def keep(
    session: Session,
    delivery: Delivery,
    checked: dict[str, Any],
    raw: dict[str, Any],
    payload_sha: str,
) -> Kept:
    """Insert the seal unless its id is there; one whose hash does not fit is kept as well."""
    row = {
        "id": checked["id"],
        "payload_sha": payload_sha,
        "body": raw["body"],
        "sealed_est_at": delivery.corrected(checked["observed_at"]),
        "received_at": delivery.received_at,
        "quarantined": False,
    }
    query = select(Seal).where(Seal.id == checked["id"])
    no = None
    if session.scalars(query).one_or_none() is None:
        row["no"] = _number(session, delivery, checked["id"])
        no = insert_new(session, Seal, row, key="id", answer="no")
    if no is None:
        known = session.scalars(query).one()
        return Kept(known.no, known.received_at, known.payload_sha, new=False)
    # The number counts among the tablet's reports: it came, and is no gap.
    reports.close_number(session, delivery, checked["seq"])
    named = set(checked["body"]["unsent"])
    if named:
        rows = [{"seal_no": no, "report_id": one} for one in sorted(named)]
        session.execute(insert(SealedReport), rows)
    return Kept(no, delivery.received_at, payload_sha, new=True)


KIND = Kind(SealItem(), keep)


def _number(session: Session, delivery: Delivery, name: uuid.UUID) -> int:
    """Return the number of a new seal; one that is offered again gets its old one."""
    wanted = delivery.offered.get(name) if delivery.enrolled else None
    taken = wanted is not None and session.scalar(select(exists().where(Seal.no == wanted)))
    floor = session.scalar(select(func.max(Seal.no))) or 0
    return depot.number(session, "seal", wanted, floor, taken=bool(taken), ahead=1)


def digest(body: Mapping[str, Any]) -> str | None:
    """Return the sha-256 of the body's RFC 8785 bytes without its own hash.

    None where RFC 8785 has no bytes for it.
    """
    plain = {name: value for name, value in body.items() if name != "sha256"}
    try:
        return hashlib.sha256(rfc8785.dumps(plain)).hexdigest()
    except (rfc8785.CanonicalizationError, UnicodeEncodeError, RecursionError):
        return None


def fits(seal: Seal) -> bool:
    """Whether what is kept is what the tablet hashed."""
    return bool(digest(seal.body) == seal.body["sha256"])


def page(session: Session, before: int | None) -> Page:
    """Return the newest seals, or those before a number."""
    query = select(Seal).order_by(Seal.no.desc()).limit(AT_ONCE + 1)
    if before is not None:
        query = query.where(Seal.no < before)
    rows = session.scalars(query).all()
    shown = rows[:AT_ONCE]
    return Page(shown, shown[-1].no if len(rows) > AT_ONCE else None)


def get(session: Session, name: uuid.UUID) -> Seal | None:
    """Return one seal, None if there is none."""
    return session.scalar(select(Seal).where(Seal.id == name))


def reports_needed() -> Select[uuid.UUID]:
    """Name the reports that seals of enrolled tablets name."""
    return select(SealedReport.report_id)


def naming(session: Session, report: uuid.UUID) -> list[dict[str, Any]]:
    """Return which seals name a report, for whoever sent it."""
    query = (
        select(Seal)
        .join(SealedReport, SealedReport.seal_no == Seal.no)
        .where(SealedReport.report_id == report)
        .order_by(Seal.no)
    )
    return [{"id": str(one.id), "no": one.no} for one in session.scalars(query)]
