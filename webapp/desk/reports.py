from __future__ import annotations

from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any
from zoneinfo import ZoneInfo

from flask import Blueprint, Response, current_app, render_template, request

from webapp.plain.fields import written
from webapp.records import not_enrolled as strangers
from webapp.records.reports import filters, inbox, sequence, shift
from webapp.records.reports.body import WORDS_FOUND, WORDS_HAPPENED
from webapp.store.db import reading
from webapp.web.access import needs, open_to_all
from webapp.web.stored import DRAWING, REVALIDATE, answer, sheet, store

HERE = Path(__file__).parent
STYLE = sheet(DRAWING, HERE / "reports.css")
LIVE = store((HERE / "live.js").read_bytes(), "text/javascript; charset=utf-8")
KEYS = store((HERE / "keys.js").read_bytes(), "text/javascript; charset=utf-8")

blueprint = Blueprint("reports", __name__, template_folder="templates")
CHOICES = {
    "found": {word: word for word in reversed(WORDS_FOUND)},
    "happened": {word: word for word in WORDS_HAPPENED},
    "state": filters.STATES,
    "apart": filters.APART,
    "sort": filters.SORTS,
}


@blueprint.get("/desk/reports.css")
@open_to_all
def style() -> Response:
    return answer(STYLE, REVALIDATE)


@blueprint.get("/desk/keys.js")
@open_to_all
def keys() -> Response:
    return answer(KEYS, REVALIDATE)


@blueprint.get("/desk/live.js")
@open_to_all
def live() -> Response:
    return answer(LIVE, REVALIDATE)


@blueprint.get("/desk/reports/state")
@needs("look")
def state() -> dict[str, str]:
    """Say whether the list is still as it was: another mark, and something changed."""
    with reading() as session:
        counts, apart = inbox.waiting(session), strangers.waiting(session)
        return {"mark": inbox.mark(session, counts.by_rank, apart.gravest)}


@blueprint.get("/desk/reports")
@needs("look")
def newest() -> str | tuple[str, int]:
    """Show what has arrived, narrowed and sorted by the address; `before` goes on."""
    try:
        wanted, before = filters.read(request.args)
        with reading() as session:
            lines = inbox.lines(session)
            page = inbox.page(session, wanted, lines, zone(), before)
            counts, apart = inbox.waiting(session), strangers.waiting(session)
            found = {"page": page, "doubts": sequence.doubts(session)}
            found |= {"waiting": counts, "apart": apart}
            now = datetime.now(UTC)
            found["picture"] = (
                None if before else shift.of_list(session, lines, wanted.line, now)
            )
            found["changes"] = inbox.mark(session, counts.by_rank, apart.gravest)
    except filters.Faults as error:
        return _refused(error), 422
    return _inbox(wanted, lines, before=before, faults={}, typed={}, **found)


def _refused(error: filters.Faults) -> str:
    """Show the form as it was typed, with what cannot be taken, and no list."""
    with reading() as session:
        lines = inbox.lines(session)
    return _inbox(
        filters.Filter(),
        lines,
        page=None,
        doubts=[],
        waiting=None,
        apart=None,
        changes=None,
        picture=None,
        before=None,
        faults=error.faults,
        typed=request.args.to_dict(),
    )


def _inbox(wanted: filters.Filter, lines: dict[str, Any], **more: Any) -> str:
    typed = more.pop("typed") or wanted.address()
    return render_template(
        "reports.html",
        wanted=wanted,
        lines=lines,
        typed=typed,
        choices=CHOICES,
        read_back_days=sequence.READ_BACK.days,
        **more,
    )


def zone() -> str:
    return str(current_app.config["DESK_ZONE"])


@blueprint.app_context_processor
def name_zone() -> dict[str, Any]:
    return {"zone": zone()}


@blueprint.app_template_filter("clock")
def clock(moment: datetime) -> str:
    """Write a time for a person, in the zone that the page names."""
    return written(moment, ZoneInfo(zone()), "%a %d %b %Y %H:%M:%S", "seconds")


@blueprint.app_template_filter("hour")
def hour(moment: datetime) -> str:
    """Write a time of day alone, where the day stands beside it."""
    return written(moment, ZoneInfo(zone()), "%H:%M", "minutes")


@blueprint.app_template_filter("duration")
def duration(length: timedelta) -> str:
    """Write a length of time for a person, without sign and with two units at most."""
    seconds = round(abs(length.total_seconds()))
    days, rest = divmod(seconds, 86_400)
    hours, rest = divmod(rest, 3600)
    minutes, seconds = divmod(rest, 60)
    parts = [(days, "d"), (hours, "h"), (minutes, "min"), (seconds, "s")]
    shown = [f"{count} {unit}" for count, unit in parts if count]
    return " ".join(shown[:2]) or "0 s"
