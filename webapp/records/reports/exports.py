"""Reports for other programs: CSV (RFC 4180) and GeoJSON (RFC 7946), a few hundred at a time.

No driver, tablet, installation and nobody of the desk is named: a name stays in the report
as it was sent, and on its page.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping
from contextlib import AbstractContextManager
from datetime import datetime
from typing import Any

from sqlalchemy import ColumnElement, select
from sqlalchemy.orm import Session

from webapp.lines.base import Base, unit_of
from webapp.lines.posts import place_along
from webapp.plain import csvtext, geojson
from webapp.plain.jsontext import rfc3339
from webapp.records.reports import inbox
from webapp.records.reports.body import BLANK
from webapp.records.reports.filters import Filter
from webapp.records.reports.models import Answer, Report
from webapp.records.reports.strip import mark_of

Json = dict[str, Any]
Reading = Callable[[], AbstractContextManager[Session]]
AT_ONCE = 500
OF_BODY = (
    *("direction", "target", "place", "at_m", "found", "happened", "step", "weather"),
    *("sand_used", "flats_suspected", "train_not_seen", "told_signaller_at", "text"),
    *("train", "rail_state", "pack", "supersedes"),
)
POSITION = ("lat", "lon", "accuracy_m", "age_s")
MOMENTS = ("observed_at", "observed_est_at", "received_at", "reviewed_at")
COLUMNS = (
    *("number", "id", "line", *OF_BODY, "along", *POSITION, *MOMENTS, "clock_offset_s"),
    *("apart", "joined_to", "answer", "trains_warned"),
)
TRUTHS = {"sand_used", "flats_suspected", "train_not_seen", "apart"}
WHOLE = {"number", "trains_warned"}
NUMBERS = {"at_m", "clock_offset_s", *POSITION}
BAR = "|"


def batches(
    reading: Reading, asked: list[ColumnElement[bool]], size: int = AT_ONCE
) -> Iterator[list[Json]]:
    """Yield what a filter lets through in the order of arrival, some at a time.

    Each lot is read in a transaction of its own, so that a slow reader holds nothing up.
    """
    order, before = Filter(sort="oldest"), None
    while True:
        with reading() as session:
            query = inbox.ordered(select(Report), order, asked, before).limit(size)
            rows = list(session.scalars(query))
            found = _facts(session, rows)
            before = inbox.cursor(order.sort, rows[-1]) if rows else None
        if found:
            yield found
        if len(rows) < size:
            return


def _facts(session: Session, rows: list[Report]) -> list[Json]:
    ids = [row.id for row in rows]
    told = session.scalars(select(Answer).where(Answer.report_id.in_(ids)))
    answers = {one.report_id: one for one in told}
    bases = inbox.lines(session)
    return [facts(row, answers.get(row.id), bases.get(row.line_key)) for row in rows]


def facts(row: Report, answer: Answer | None, base: Base | None) -> Json:
    """Return one report under the names of the columns; `along` as the line's posts count."""
    body = {**BLANK, **row.item["body"]}
    position = body["position"] or {}
    return {
        "number": row.server_no,
        "id": str(row.id),
        "line": row.line_key,
        **{name: body[name] for name in OF_BODY},
        "happened": body["happened"] or [],
        "text": body["text"] or "",
        "along": None if row.at_m is None else place_along(row.at_m, unit_of(base)),
        **{name: position.get(name) for name in POSITION},
        **{name: _moment(getattr(row, name)) for name in MOMENTS},
        "clock_offset_s": row.clock_offset_s,
        "apart": row.quarantined,
        "joined_to": str(row.repeats) if row.repeats else None,
        "answer": answer.kind if answer else None,
        "trains_warned": answer.trains if answer else None,
    }


def _moment(value: datetime | None) -> str | None:
    return None if value is None else rfc3339(value)


def as_csv(found: Iterable[Iterable[Json]]) -> Iterator[str]:
    """Write one row a report."""
    rows = (one for lot in found for one in lot)
    return csvtext.lines(COLUMNS, ([_cell(one[name]) for name in COLUMNS] for one in rows))


def _cell(value: Any) -> Any:
    if isinstance(value, bool):
        return "yes" if value else "no"
    return BAR.join(value) if isinstance(value, list) else value


def read_csv(text: str) -> Iterator[Json]:
    """Read what `as_csv` wrote, every value as it was."""
    for row in csvtext.read(text):
        yield {name: _value(name, cell) for name, cell in row.items()}


def _value(name: str, cell: str) -> Any:
    if name == "happened":
        return cell.split(BAR) if cell else []
    if name == "text":
        return cell
    if cell == "":
        return None
    if name in TRUTHS:
        return cell == "yes"
    if name in WHOLE:
        return int(cell)
    return float(cell) if name in NUMBERS else cell


def as_geojson(found: Iterable[Iterable[Json]], bases: Mapping[str, Base]) -> Iterator[str]:
    """Write one feature a report: a point in WGS 84, longitude first."""
    return geojson.lines(_feature(one, bases.get(one["line"])) for lot in found for one in lot)


def _feature(one: Json, base: Base | None) -> Json:
    """Return a report at its place on the line, else where the tablet was, else nowhere."""
    on_line = _on_line(base, one)
    own = [one["lon"], one["lat"]] if one["lon"] is not None else None
    point = on_line or own
    where = "line" if on_line else "tablet" if own else None
    return {
        "type": "Feature",
        "id": one["id"],
        "geometry": {"type": "Point", "coordinates": point} if point else None,
        "properties": {**one, "geometry_from": where},
    }


def _on_line(base: Base | None, one: Json) -> list[float] | None:
    at = None if base is None else mark_of(base, one["at_m"], one["target"])
    if base is None or at is None:
        return None
    try:
        return base.point_at(at)
    except ValueError:
        return None
