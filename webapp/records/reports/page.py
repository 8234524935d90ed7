"""All that the desk is shown of one report, and of what stands around it."""

from __future__ import annotations

import uuid
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any
from zoneinfo import ZoneInfo

from sqlalchemy import select
from sqlalchemy.orm import Session

from webapp.lines import in_use
from webapp.lines.base import Base, Lines
from webapp.plain.fields import by_clock
from webapp.records.reports import answers, approach, desk, inbox, near, sequence, strip
from webapp.records.reports.models import Note, Report
from webapp.records.reports.names import bases_of
from webapp.records.warnings import models as warnings_models
from webapp.records.warnings import service as warnings

Json = dict[str, Any]


@dataclass(frozen=True)
class Near:
    """A report near by, with how far it is."""

    report: desk.DeskReport
    apart: near.Neighbour


@dataclass(frozen=True)
class Live:
    """A warning in force on the line, in words."""

    id: uuid.UUID
    words: str
    stretch: str
    from_report: bool


@dataclass(frozen=True)
class Pack:
    """The pack that the driver had in hand."""

    sha: str
    known: bool
    current: bool


@dataclass(frozen=True)
class Page:
    report: desk.DeskReport
    near: list[Near]
    notes: list[Note]
    answer: answers.Given | None
    live: list[Live]
    pack: Pack | None
    strip: strip.Strip | None
    approach: approach.Approach
    doubts: list[sequence.Doubt] | None
    # Whether a warning can be made from it: a pack of its line is in use.
    warnable: bool
    lines: bool


def gather(session: Session, name: uuid.UUID, zone: str) -> Page | None:
    """Return what there is about a report; None if it has not arrived."""
    row = session.scalar(select(Report).where(Report.id == name))
    if row is None:
        return None
    found = near.of(session, row)
    report, *others = desk.for_desk(session, [row, *(one.row for one in found)])
    around = [Near(*pair) for pair in zip(others, found, strict=True)]
    known = inbox.lines(session)
    own = bases_of(session, [row.pack_sha] if row.pack_sha else [])
    base = own.get(row.pack_sha or "") or known.get(row.line_key)
    rows = [one for one in warnings.listed(session) if _on_it(one, row)]
    day = by_clock(row.observed_est_at, ZoneInfo(zone)).date().isoformat()
    notes = session.scalars(select(Note).where(Note.report_id == name).order_by(Note.id))
    return Page(
        report,
        around,
        list(notes),
        answers.of(session, name),
        [_live(one, Lines(known), row) for one in rows],
        _pack(in_use.packs(session), row, own),
        _strip(base, row, around, rows),
        _approach(session, report.body, row, own, day),
        _doubts(session, row),
        row.line_key in known,
        bool(known),
    )


def _on_it(one: warnings_models.Warned, row: Report) -> bool:
    return one.status == "published" and one.line_key == row.line_key


def _live(one: warnings_models.Warned, known: Lines, row: Report) -> Live:
    line = one.line_key
    state, way = known.state(line, one.plan_state), known.direction(line, one.direction)
    where = known.stretch(line, one.from_m, one.to_m)
    own = {row.id, row.repeats} - {None}
    return Live(one.id, f"{state}, {way}", where, one.report_id in own)


def _pack(packs: Mapping[str, str], row: Report, own: Mapping[str, Base]) -> Pack | None:
    if row.pack_sha is None:
        return None
    return Pack(row.pack_sha, row.pack_sha in own, row.pack_sha in packs.values())


def _strip(
    base: Base | None, row: Report, around: list[Near], rows: list[warnings_models.Warned]
) -> strip.Strip | None:
    """Draw what is counted along the line as this pack counts it."""
    at = None if base is None else strip.mark_of(base, row.at_m, row.target)
    if base is None or at is None:
        return None
    things = [
        strip.Here("warning", "warned", one.from_m, one.to_m)
        for one in rows
        if one.datum == base.datum
    ]
    for one in around:
        other = one.apart.row
        there = strip.mark_of(base, other.at_m, other.target)
        if there is not None:
            things.append(strip.Here("near", f"no. {other.server_no}", there))
    return strip.draw(base, row.direction, at, things)


def _approach(
    session: Session,
    body: Json,
    row: Report,
    own: Mapping[str, Base],
    day: str,
) -> approach.Approach:
    """Draw out of the pack held alone: another pack may have advised otherwise."""
    pack = row.pack_sha
    try:
        if pack is None:
            raise approach.NotDrawn("the report names no pack.")
        gone = in_use.withdrawn(session, pack)
        if gone is not None:
            raise approach.NotDrawn(f"the pack held is withdrawn: {gone['reason']}")
        if pack not in own:
            raise approach.NotDrawn("the pack held is not kept here.")
        cell = approach.cell(own[pack], body, row.line_key, day)
        table = in_use.table(session, pack)
        pictures = in_use.pictures(session, pack, body["train"])
        return approach.draw(own[pack], table, pictures, cell, row.at_m)
    except approach.NotDrawn as why:
        return approach.Approach(None, [f"Not drawn: {why}"])
    except LookupError:
        words = "Not drawn: the pack held holds no picture of this train."
        return approach.Approach(None, [words])


def _doubts(session: Session, row: Report) -> list[sequence.Doubt] | None:
    """Return what the numbers of the tablet that sent it say; None if that is not known."""
    if row.device_id is None:
        return None
    return sequence.doubts(session, row.device_id)
