"""Keep a seal once and as it was sent, and say whether its hash fits what it says."""

from __future__ import annotations

import hashlib
import uuid
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import rfc8785
from sqlalchemy import Select, exists, func, insert, select
from sqlalchemy.orm import Session

from webapp.arrival import Arrival, Kept, Kind
from webapp.db import insert_new
from webapp.depot import service as depot
from webapp.reports import service as reports
from webapp.seals.models import Seal, SealedReport
from webapp.seals.schemas import SealItem

AT_ONCE = 50


@dataclass(frozen=True)
class Page:
    """Some seals, newest first, and behind which number it goes on."""

    seals: Sequence[Seal]
    more: int | None


def keep(
    session: Session,
    arrival: Arrival,
    checked: dict[str, Any],
    raw: dict[str, Any],
    payload_sha: str,
) -> Kept:
    """Insert the seal unless its id is there; one whose hash does not fit is kept as well."""
    row = {
        "id": checked["id"],
        "payload_sha": payload_sha,
        "body": raw["body"],
        "sealed_est_at": arrival.corrected(checked["observed_at"]),
        "received_at": arrival.received_at,
        "quarantined": False,
    }
    query = select(Seal).where(Seal.id == checked["id"])
    no = None
    if session.scalars(query).one_or_none() is None:
        row["no"] = _number(session, arrival, checked["id"])
        no = insert_new(session, Seal, row, key="id", answer="no")
    if no is None:
        known = session.scalars(query).one()
        return Kept(known.no, known.received_at, known.payload_sha, new=False)
    # The number counts among the tablet's reports: it came, and is no gap.
    reports.close_number(session, arrival, checked["seq"])
    named = set(checked["body"]["unsent"])
    if named:
        rows = [{"seal_no": no, "report_id": one} for one in sorted(named)]
        session.execute(insert(SealedReport), rows)
    return Kept(no, arrival.received_at, payload_sha, new=True)


KIND = Kind(SealItem(), keep)


def _number(session: Session, arrival: Arrival, name: uuid.UUID) -> int:
    """Return the number of a new seal; one that is offered again gets its old one."""
    wanted = arrival.offered.get(name) if arrival.enrolled else None
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
