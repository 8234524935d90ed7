"""Warnings for other programs: CSV (RFC 4180), GeoJSON (RFC 7946), CAP 1.2 (OASIS)."""

from __future__ import annotations

import uuid
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from contextlib import AbstractContextManager
from datetime import UTC, datetime
from typing import Any
from xml.etree import ElementTree as ET

from sqlalchemy import Select, select
from sqlalchemy.orm import Session

from webapp.lines import in_use
from webapp.lines.base import Base, line_name, name_of, unit_of
from webapp.lines.posts import stretch_along
from webapp.plain import csvtext, geojson
from webapp.plain.jsontext import rfc3339
from webapp.records.warnings.models import Warned, WarningRev

Json = dict[str, Any]

AT_ONCE = 500
Reading = Callable[[], AbstractContextManager[Session]]
COLUMNS = (
    *("id", "rev", "status", "line", "direction", "datum", "from_m", "to_m", "state"),
    *("reason", "from_at", "review_at", "told_by", "told_at", "reference", "report"),
    *("changed_at", "ended_at"),
)
CAP = "urn:oasis:names:tc:emergency:cap:1.2"
SENDER = "step-in-hand-depot"
ADVICE_ONLY = "Advice only. Signals, the rule book and the signaller's word come first."
EARTH_M_PER_DEGREE = 111_320.0
DRAFT, ENDED = "draft", "ended"


class NoMessage(LookupError):
    """There is no such revision, or it was told to no tablet."""


def chosen(session: Session, status: str | None, line: str | None) -> Sequence[uuid.UUID]:
    """Name the warnings of one status or, without one, all that were ever published."""
    query: Select[uuid.UUID] = select(Warned.id)
    if status is None:
        query = query.where(Warned.feed_no.is_not(None))
    else:
        query = query.where(Warned.status == status)
    if line is not None:
        query = query.where(Warned.line_key == line)
    newest = query.order_by(Warned.changed_at.desc(), Warned.id.desc())
    return session.scalars(newest).all()


def lots(
    reading: Reading, names: Sequence[uuid.UUID], size: int = AT_ONCE
) -> Iterator[list[Json]]:
    """Yield the facts of these warnings in their order, some at a time.

    Each lot is read in a transaction of its own. Which ones go out is settled before: one
    that is amended or ended meanwhile stands as it is then, and none is left out.
    """
    for begin in range(0, len(names), size):
        some = names[begin : begin + size]
        with reading() as session:
            rows = session.scalars(select(Warned).where(Warned.id.in_(some)))
            found = {row.id: facts(row) for row in rows}
        yield [found[name] for name in some if name in found]


def facts(row: Warned) -> dict[str, Any]:
    """Return one warning under the names of the columns."""
    same = ("rev", "status", "direction", "datum", "from_m", "to_m", "reason")
    moments = ("from_at", "review_at", "told_at", "changed_at", "ended_at")
    return {
        "id": str(row.id),
        **{name: getattr(row, name) for name in same},
        "line": row.line_key,
        "state": row.plan_state,
        "told_by": row.told_by,
        "reference": row.reference,
        "report": None if row.report_id is None else str(row.report_id),
        **{name: _moment(getattr(row, name)) for name in moments},
    }


def _moment(value: datetime | None) -> str | None:
    return None if value is None else rfc3339(value)


def as_csv(found: Iterable[Iterable[Json]]) -> Iterator[str]:
    """Write one row a warning."""
    rows = (one for lot in found for one in lot)
    return csvtext.lines(COLUMNS, ([one[name] for name in COLUMNS] for one in rows))


def as_geojson(found: Iterable[Iterable[Json]], bases: Mapping[str, Base]) -> Iterator[str]:
    """Write one feature a warning: the stretch of line in WGS 84, longitude first."""
    return geojson.lines(_feature(one, bases.get(one["line"])) for lot in found for one in lot)


def _feature(one: Json, base: Base | None) -> Json:
    points = stretch(base, one["datum"], one["from_m"], one["to_m"])
    geometry = None
    if points:
        # A line has two points at least, also where the warning is about a single place.
        ends = points if len(points) > 1 else [*points, *points]
        geometry = {"type": "LineString", "coordinates": ends}
    return {
        "type": "Feature",
        "id": one["id"],
        "geometry": geometry,
        "properties": one,
    }


def stretch(base: Base | None, datum: str, from_m: float, to_m: float) -> list[list[float]]:
    """Return [lon, lat] along the line; nothing where its mileage is another one now."""
    if base is None or base.datum != datum:
        return []
    way = base.way
    low, high = max(from_m, way[0][2]), min(to_m, way[-1][2])
    if low > high:
        return []
    inside = [[lon, lat] for lon, lat, at in way if low < at < high]
    points = [base.point_at(low), *inside, base.point_at(high)]
    return [one for n, one in enumerate(points) if n == 0 or one != points[n - 1]]


def as_cap(session: Session, name: uuid.UUID, rev: int | None, *, training: bool) -> bytes:
    """Write one told revision as a CAP 1.2 message; the newest if none is named.

    The first is an Alert, later ones are Updates, the end is a Cancel; both name all that
    went before. There is no `expires`: a warning ends by the signaller's word, and
    `review_at` only asks.

    Raises
    ------
    NoMessage
        If the warning or that revision was told to no tablet.
    """
    told = session.scalars(
        select(WarningRev)
        .where(WarningRev.warning_id == name, WarningRev.feed_no.is_not(None))
        .order_by(WarningRev.rev)
    ).all()
    upto = [one for one in told if rev is None or one.rev <= rev]
    if not upto or (rev is not None and upto[-1].rev != rev):
        raise NoMessage("No tablet was told that. Only what was published has a message.")
    message, before = upto[-1], upto[:-1]
    # Of an ended warning the revision says only that it ended: what it was stands before it.
    body = before[-1].body if message.body["status"] == ENDED and before else message.body
    base = in_use.bases(session).get(body["line"])
    return _alert(message, before, body, base, training)


def _alert(
    message: WarningRev,
    before: Sequence[WarningRev],
    body: Json,
    base: Base | None,
    training: bool,
) -> bytes:
    over = message.body["status"] == ENDED
    alert = ET.Element(f"{{{CAP}}}alert")
    _text(alert, "identifier", _identifier(message))
    _text(alert, "sender", SENDER)
    _text(alert, "sent", offset(message.at))
    _text(alert, "status", "Exercise" if training else "Actual")
    _text(alert, "msgType", "Cancel" if over else "Update" if before else "Alert")
    _text(alert, "scope", "Restricted")
    _text(alert, "restriction", "For drivers and desks of this railway.")
    if training:
        _text(alert, "note", "Training data of a demonstration. Not a real warning.")
    if before:
        _text(alert, "references", " ".join(_reference(one) for one in before))
    if not over:
        _info(alert, body, base, training)
    ET.register_namespace("", CAP)
    written: bytes = ET.tostring(alert, encoding="utf-8", xml_declaration=True)
    return written


def _info(alert: ET.Element, body: Json, base: Base | None, training: bool) -> None:
    where = stretch_along(body["from_m"], body["to_m"], unit_of(base))
    state = name_of(base, "states", body["state"])
    info = ET.SubElement(alert, f"{{{CAP}}}info")
    _text(info, "language", "en")
    _text(info, "category", "Transport")
    _text(info, "event", "Low adhesion")
    _text(info, "responseType", "Prepare")
    _text(info, "urgency", "Immediate")
    # How bad it is stands in the state of the chain; CAP's own grades would be a guess.
    _text(info, "severity", "Unknown")
    _text(info, "certainty", "Observed")
    _text(info, "effective", offset(datetime.fromisoformat(body["from_at"])))
    _text(info, "senderName", f"Depot desk, told by {body['told_by']}")
    head = f"{state}, {where}"
    _text(info, "headline", f"EXERCISE: {head}" if training else head)
    _text(info, "description", body["reason"])
    _text(info, "instruction", ADVICE_ONLY)
    for key in ("line", "direction", "datum", "from_m", "to_m", "state", "reference"):
        if body[key] != "":
            _pair(info, "parameter", key, body[key])
    if body["review_at"]:
        _pair(
            info, "parameter", "review_at", offset(datetime.fromisoformat(body["review_at"]))
        )
    area = ET.SubElement(info, f"{{{CAP}}}area")
    line = line_name(base, body["line"])
    way = name_of(base, "directions", body["direction"])
    _text(area, "areaDesc", f"{line}, {way}, {where}")
    points = stretch(base, body["datum"], body["from_m"], body["to_m"])
    if points:
        _text(area, "circle", _circle(points))


def _circle(points: Sequence[Sequence[float]]) -> str:
    """Return "latitude,longitude radius in km", outward, round a stretch of line."""
    lon = (min(p[0] for p in points) + max(p[0] for p in points)) / 2
    lat = (min(p[1] for p in points) + max(p[1] for p in points)) / 2
    # A degree of longitude is never longer than one of latitude: outward.
    reach = max(max(abs(p[0] - lon), abs(p[1] - lat)) for p in points)
    radius = reach * 2**0.5 * EARTH_M_PER_DEGREE / 1000 + 0.1
    return f"{lat:.5f},{lon:.5f} {radius:.2f}"


def _identifier(one: WarningRev) -> str:
    return f"{one.warning_id}.{one.rev}"


def _reference(one: WarningRev) -> str:
    return f"{SENDER},{_identifier(one)},{offset(one.at)}"


def offset(moment: datetime) -> str:
    """Return a time as CAP wants it: whole seconds and a numeric offset, never "Z"."""
    return moment.astimezone(UTC).isoformat(timespec="seconds")


def _pair(parent: ET.Element, tag: str, name: str, value: Any) -> None:
    pair = ET.SubElement(parent, f"{{{CAP}}}{tag}")
    _text(pair, "valueName", name)
    _text(pair, "value", str(value))


def _text(parent: ET.Element, tag: str, text: str) -> None:
    ET.SubElement(parent, f"{{{CAP}}}{tag}").text = "".join(map(_in_xml, text))


def _in_xml(character: str) -> str:
    """Return a character that XML 1.0 can hold; for one it cannot the replacement sign."""
    code = ord(character)
    ranges = ((0x20, 0xD7FF), (0xE000, 0xFFFD), (0x10000, 0x10FFFF))
    inside = code in (0x9, 0xA, 0xD) or any(low <= code <= high for low, high in ranges)
    return character if inside else "\ufffd"
