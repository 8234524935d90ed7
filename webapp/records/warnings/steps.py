"""Steps of clearing as the desk was told of them, one by one, append-only."""

from __future__ import annotations

import uuid
from collections.abc import Mapping
from datetime import datetime
from typing import Any

from sqlalchemy import select
from sqlalchemy.orm import Session

from webapp.lines import in_use
from webapp.lines.base import Base, Target
from webapp.plain.fields import CLOCKS_DIFFER
from webapp.plain.jsontext import rfc3339
from webapp.records import not_enrolled as strangers
from webapp.records.reports import service as reports
from webapp.records.warnings import clearing
from webapp.records.warnings.clearing import Clearing, Rule
from webapp.records.warnings.models import ClearingStep, Warned
from webapp.store import audit
from webapp.store.edits import Faults

PUBLISHED = "published"
STRUCK = "struck"
# Own choice: a report's place is where the train was, not where the rail was slippery.
NEAR_M = 400.0


class Over(Exception):
    """The warning does not live, so no step of its clearing can be told any more."""


def of(session: Session, warning: uuid.UUID) -> list[ClearingStep]:
    """Return the steps that stand, in the order in which they were done."""
    query = select(ClearingStep).where(ClearingStep.warning_id == warning)
    rows = session.scalars(query.order_by(ClearingStep.told_at, ClearingStep.kept_at)).all()
    taken_back = {row.strikes for row in rows}
    return [row for row in rows if row.kind != STRUCK and row.id not in taken_back]


def note(
    session: Session, warning: uuid.UUID, told: Mapping[str, Any], who: str, now: datetime
) -> None:
    """Keep one step as it was told.

    Raises
    ------
    Faults
        With what is wrong with what was typed.
    Over
        If the warning is a draft or has ended.
    """
    faults = _faults(told, now)
    if faults:
        raise Faults(faults)
    _lock(session, warning)
    result = told["result"] if told["kind"] == clearing.TEST_STOP else None
    row = _row(warning, {**told, "result": result}, who, now)
    session.add(row)
    kept = {"step": row.kind, "result": row.result, "done_at": rfc3339(row.told_at)}
    more = {"told_by": row.told_by, "reference": row.reference, "note": row.note}
    audit.record(session, now, who, "warning.step", str(warning), None, {**kept, **more})


def strike(
    session: Session,
    warning: uuid.UUID,
    step: uuid.UUID,
    told: Mapping[str, Any],
    who: str,
    now: datetime,
) -> None:
    """Take a step back that was told or typed wrongly; both rows stay."""
    _lock(session, warning)
    old = next((row for row in of(session, warning) if row.id == step), None)
    if old is None:
        raise Over("That step does not stand any more. Look at the warning again.")
    session.add(
        _row(warning, {**told, "kind": STRUCK, "result": None, "strikes": step}, who, now)
    )
    kept = {"step": old.kind, "result": old.result, "done_at": rfc3339(old.told_at)}
    new = {"note": told["note"], "told_by": told["told_by"]}
    audit.record(session, now, who, "warning.strike", str(warning), kept, new)


def _row(warning: uuid.UUID, told: Mapping[str, Any], who: str, now: datetime) -> ClearingStep:
    return ClearingStep(
        **{"id": uuid.uuid4(), "warning_id": warning, "kept_at": now, "kept_by": who},
        **{name: told.get(name) for name in ("kind", "result", "told_at", "strikes")},
        **{name: told.get(name) or "" for name in ("told_by", "reference", "note")},
    )


def _faults(told: Mapping[str, Any], now: datetime) -> list[str]:
    faults = []
    if told["kind"] not in clearing.KINDS:
        faults.append(f"kind: choose one of: {', '.join(clearing.KINDS)}.")
    if told["kind"] == clearing.TEST_STOP and told["result"] not in clearing.RESULTS:
        faults.append("result: say what the test stop found, in the driver's word.")
    if told["told_at"] > now + CLOCKS_DIFFER:
        faults.append("told_at: still to come. Type when it was done, as you were told.")
    if any("\0" in str(told.get(name) or "") for name in ("told_by", "reference", "note")):
        faults.append("note: take out the NUL character.")
    return faults


def _lock(session: Session, warning: uuid.UUID) -> None:
    query = select(Warned.status).where(Warned.id == warning).with_for_update()
    if session.scalar(query) != PUBLISHED:
        raise Over("This warning is not in force. Nothing was noted.")


def cleared(
    session: Session, warning: Warned, rule: Rule, ended_at: datetime
) -> tuple[Clearing, list[ClearingStep]]:
    """Hold what was told of a warning against the rule, and return the steps as well."""
    base = in_use.bases(session).get(warning.line_key)
    stops = _stops(base, warning)
    told = of(session, warning.id)
    latest = reports.latest_reportable(session, *_stretch(warning, base))
    found = clearing.assess(
        rule,
        warning.from_at,
        [] if latest is None else [latest],
        told,
        # Without its pack nobody knows, and the stricter rule holds.
        buffers=base is None or any(stop.kind == "buffers" for stop in stops),
        ended_at=ended_at,
    )
    return found, told


def _stops(base: Base | None, warning: Warned) -> list[Target]:
    if base is None:
        return []
    return base.stops_within(warning.direction, warning.from_m, warning.to_m)


Stretch = tuple[str, str, datetime, tuple[float, float], set[str] | None]


def _stretch(warning: Warned, base: Base | None) -> Stretch:
    """Return what a report must be about to be about this warning, since it was opened."""
    stops = None if base is None else {one.key for one in _stops(base, warning)}
    stretch = warning.from_m - NEAR_M, warning.to_m + NEAR_M
    return warning.line_key, warning.direction, warning.from_at, stretch, stops


def apart(session: Session, warning: Warned) -> strangers.Apart:
    """Count what nobody looked at from tablets not enrolled: the rule reads none of it."""
    base = in_use.bases(session).get(warning.line_key)
    return strangers.there(session, *_stretch(warning, base))


def set_aside(session: Session, warning: Warned, why: str, who: str, now: datetime) -> int:
    """Set aside what `apart` counts, with the reason."""
    base = in_use.bases(session).get(warning.line_key)
    return strangers.set_aside_there(session, _stretch(warning, base), why, who, now)
