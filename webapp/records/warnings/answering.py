"""Publish a warning, and tell the driver whose report it was made from."""

from __future__ import annotations

import uuid
from datetime import datetime
from zoneinfo import ZoneInfo

from sqlalchemy.orm import Session

from webapp.lines import in_use
from webapp.lines.base import Base, Call
from webapp.records.reports import answers
from webapp.records.warnings import service
from webapp.records.warnings.models import Warned

DAY = 24 * 60


def publish(
    session: Session, name: uuid.UUID, rev: int, who: str, now: datetime, zone: ZoneInfo
) -> Warned:
    """Tell a warning to the tablets and answer its report, in one transaction.

    The answer is given once: amending, or a second warning from the same report, adds none.
    """
    warning = service.publish(session, name, rev, who, now)
    if warning.report_id is not None:
        base = in_use.bases(session).get(warning.line_key)
        count = 0 if base is None else booked(base, warning, now.astimezone(zone))
        answers.warned(session, warning.report_id, count, who, now)
    return warning


def booked(base: Base, warning: Warned, now: datetime) -> int:
    """Return how many trains are booked to a stop that the warning meets, later today.

    When none is left today, those of the next day. Own choice: it is what the depot can
    count of "trains warned" in that moment; who really holds it, the warning's page says.
    """
    found = base.stops_within(warning.direction, warning.from_m, warning.to_m)
    stops = {one.key for one in found}
    last = [
        max(times)
        for trip in base.trips
        if (times := [_minutes(one) for one in trip.calls if one.target in stops])
    ]
    minute = now.hour * 60 + now.minute
    # A train of yesterday that runs past midnight is booked at 24:00 and later.
    left = [one for one in last if one > minute or one - DAY > minute]
    return len(left or last)


def _minutes(call: Call) -> int:
    hours, minutes = str(call.arrive or call.depart).split(":")[:2]
    return int(hours) * 60 + int(minutes)
