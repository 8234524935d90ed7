"""Keep a report exactly once, and read reports back for the desk."""

from __future__ import annotations

import json
import uuid
from collections.abc import Collection, Sequence
from datetime import datetime
from typing import Any

import marshmallow as ma
from sqlalchemy import and_, case, exists, func, insert, or_, select
from sqlalchemy.orm import Session

from webapp.plain.fields import Id, Integer
from webapp.records.items import Delivery, Kept, Parked, Removed
from webapp.records.reports.anonymise import (
    NO_FINGERPRINT,
)
from webapp.records.reports.models import ClosedNumber, Refusal, Report, ReportWords
from webapp.records.reports.rank import happened, urgency
from webapp.records.reports.search import searched
from webapp.records.reports.together import Sent, arrived, insert_all, not_there
from webapp.store import depot
from webapp.store.db import insert_new

SEQ = Integer(validate=ma.validate.Range(1, 2**31 - 1))
LONGEST_REASON = 500


def keep(
    session: Session,
    delivery: Delivery,
    checked: dict[str, Any],
    raw: dict[str, Any],
    payload_sha: str,
) -> Kept:
    """Insert the report unless its id is there; either way return what is there.

    The look before only saves a number: two requests may carry one report at the same time,
    and the insert decides.

    Raises
    ------
    Removed
        When it was removed on request.
    """
    known = select(*(Report.server_no, Report.received_at, Report.payload_sha)).where(
        Report.id == checked["id"]
    )
    if session.execute(known).one_or_none() is None:
        if depot.is_removed(session, checked["id"]):
            raise Removed
        row = _row(delivery, checked, raw, payload_sha)
        row["server_no"] = _number(session, delivery, checked["id"])
        server_no = insert_new(session, Report, row, key="id", answer="server_no")
        if server_no is not None:
            words = searched(checked["body"])
            session.execute(insert(ReportWords).values(server_no=server_no, words=words))
            return Kept(server_no, delivery.received_at, payload_sha, new=True)
    there = session.execute(known).one()
    # Where a name went, so did the fingerprint: a repeat of it is taken at its word.
    sha = payload_sha if there.payload_sha == NO_FINGERPRINT else there.payload_sha
    return Kept(there.server_no, there.received_at, sha, new=False)


def keep_together(
    session: Session, delivery: Delivery, sent: Sequence[Sent]
) -> dict[uuid.UUID, Kept]:
    """Keep those of a delivery that are new, in a few statements; return what was kept.

    What is not in the answer is for `keep`: it is there, was removed, or came before.
    """
    here = [one for one in arrived(delivery, sent) if not depot.is_removed(session, one.id)]
    new = not_there(session, here) if here else []
    if not new:
        return {}
    floor, rows = highest(session), []
    for one in new:
        row = _row(delivery, one.checked, one.raw, one.payload_sha)
        number = depot.number(
            session, "report", None, floor, taken=False, ahead=delivery.items
        )
        rows.append({**row, "server_no": number})
    kept = insert_all(session, rows)
    return {
        row["id"]: Kept(row["server_no"], delivery.received_at, row["payload_sha"], new=True)
        for row in rows
        if row["id"] in kept
    }


def _number(session: Session, delivery: Delivery, name: uuid.UUID) -> int:
    """Return the number of a new report; one that is offered again gets its old one."""
    wanted = delivery.offered.get(name) if delivery.enrolled else None
    taken = wanted is not None and session.scalar(
        select(exists().where(Report.server_no == wanted))
    )
    return depot.number(
        session, "report", wanted, highest(session), taken=bool(taken), ahead=delivery.items
    )


def highest(session: Session) -> int:
    """Return the highest number that a report here bears."""
    return session.scalar(select(func.max(Report.server_no))) or 0


def known(session: Session, name: uuid.UUID, payload_sha: str) -> bool:
    """Whether exactly this report has arrived."""
    kept = session.scalar(select(Report.payload_sha).where(Report.id == name))
    return kept in (payload_sha, NO_FINGERPRINT)


def note_refused(session: Session, delivery: Delivery, refused: Parked) -> None:
    """Remember the number of a report that lies parked on its tablet, if it can be read."""
    try:
        name = Id().deserialize(refused.raw.get("id"))
        seq = SEQ.deserialize(refused.raw.get("seq"))
    except ma.ValidationError:
        return
    row = {
        "id": name,
        "payload_sha": refused.payload_sha,
        "device_id": delivery.device_id,
        "install_id": delivery.install_id,
        "seq": seq,
        "code": refused.code,
        # As ASCII: a field's name may hold what no database can.
        "reason": json.dumps(refused.errors or {})[:LONGEST_REASON],
        "refused_at": delivery.received_at,
    }
    insert_new(session, Refusal, row, key=("id", "payload_sha"), answer="seq")


def close_number(session: Session, delivery: Delivery, seq: int) -> None:
    """Note that a number came with an item that is no report, so that no gap shows."""
    where = {"device_id": delivery.device_id, "install_id": delivery.install_id}
    session.add(ClosedNumber(id=uuid.uuid4(), seq=seq, **where))


def facts(session: Session, name: uuid.UUID) -> dict[str, Any] | None:
    """Return of a report what a warning can be made from; None if it has not arrived."""
    row = session.scalar(select(Report).where(Report.id == name))
    if row is None:
        return None
    body = row.item["body"]
    kept = ("direction", "target", "place", "at_m", "found", "happened", "rail_state", "pack")
    return {
        "server_no": row.server_no,
        "line": row.line_key,
        **{key: body.get(key) for key in kept},
        "happened": body.get("happened") or [],
    }


def latest_reportable(
    session: Session,
    line: str,
    direction: str,
    since: datetime,
    stretch: tuple[float, float],
    stops: Collection[str] | None,
) -> datetime | None:
    """Return when an enrolled tablet last met reportable grip on a stretch since then.

    The database looks for the one row that decides: no number of others can hide it. A
    report without a place counts by its stop, one without either counts everywhere, and
    none is later than it came.

    Parameters
    ----------
    stops
        Keys of the stops of the stretch; None where they are not known, so that any may be.
    """
    nowhere = and_(Report.at_m.is_(None), Report.target.is_(None))
    at_a_stop = Report.at_m.is_(None) if stops is None else Report.target.in_(stops)
    seen, came = Report.observed_est_at, Report.received_at
    query = (
        select(func.max(case((seen > came, came), else_=seen)))
        .where(Report.line_key == line, seen >= since, came >= since)
        .where(Report.direction == direction, Report.found == "reportable")
        .where(
            Report.quarantined.is_(False),
            or_(Report.at_m.between(*stretch), at_a_stop, nowhere),
        )
    )
    latest: datetime | None = session.scalar(query)
    return latest


def count(session: Session) -> int:
    """Return how many reports there are."""
    return session.scalar(select(func.count()).select_from(Report)) or 0


def _row(
    delivery: Delivery, checked: dict[str, Any], raw: dict[str, Any], payload_sha: str
) -> dict[str, Any]:
    body = checked["body"]
    return {
        "id": checked["id"],
        "device_id": delivery.device_id,
        "install_id": delivery.install_id,
        "seq": checked["seq"],
        "payload_sha": payload_sha,
        "item": raw,
        "line_key": body["route"],
        "direction": body["direction"],
        "at_m": body["at_m"],
        "found": body["found"],
        "rail_state": body["rail_state"],
        "pack_sha": body["pack"],
        "supersedes": body["supersedes"],
        "observed_at": checked["observed_at"],
        "sent_at": delivery.sent_at,
        "received_at": delivery.received_at,
        "clock_offset_s": delivery.clock_offset.total_seconds(),
        "observed_est_at": delivery.corrected(checked["observed_at"]),
        "quarantined": False,
        "version": 1,
        "target": body["target"],
        "happened": happened(body["happened"]),
        "waiting": True,
        "flats": body["flats_suspected"],
        "urgency": urgency(body, apart=False),
    }
