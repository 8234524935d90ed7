from __future__ import annotations

from datetime import UTC, datetime
from zoneinfo import ZoneInfo

from flask import Blueprint, current_app, render_template, request

from webapp.plain.fields import written
from webapp.records import handover
from webapp.store.db import reading
from webapp.web.access import needs
from webapp.web.problem import Problem

blueprint = Blueprint("handover", __name__, template_folder="templates")


@blueprint.get("/desk/handover")
@needs("look")
def page() -> str:
    """Show what is live, what changed since a time, what waits; prints as one sheet."""
    zone, now = ZoneInfo(current_app.config["DESK_ZONE"]), datetime.now(UTC)
    since = _since(request.args.get("since"), zone, now)
    with reading() as session:
        shift = handover.shift(session, since, now)
        typed = since.astimezone(zone).strftime("%Y-%m-%dT%H:%M")
        # Inside: behind the transaction every row would be read again, one by one.
        return render_template("handover.html", shift=shift, zone=zone.key, typed=typed)


def _since(typed: str | None, zone: ZoneInfo, now: datetime) -> datetime:
    """Read a time of the desk's zone; half a day back if none is given."""
    if not typed:
        return now - handover.SHIFT
    try:
        found = datetime.fromisoformat(typed).replace(tzinfo=zone).astimezone(UTC)
    except (ValueError, OverflowError) as error:
        raise Problem(
            422, "bad_time", "since: type a day and a time like 2026-11-27T06:00."
        ) from error
    return max(min(found, now), now - handover.FURTHEST)


@blueprint.app_template_filter("minute")
def minute(moment: datetime) -> str:
    """Write a time for a list: to the minute, without the year."""
    zone = ZoneInfo(current_app.config["DESK_ZONE"])
    return written(moment, zone, "%a %d %b %H:%M", "minutes")


@blueprint.app_template_filter("time_given")
def time_given(seconds: int) -> str:
    """Write a trip's allowance: minutes and seconds, never rounded down."""
    minutes, rest = divmod(seconds, 60)
    return f"{minutes} min {rest:02} s" if minutes else f"{rest} s"
