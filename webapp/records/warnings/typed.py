"""What a person types about a warning, checked against the line's current pack."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Any

import marshmallow as ma

from webapp.lines.base import Base, State
from webapp.lines.posts import how_to_type, place_on_line
from webapp.plain.fields import CLOCKS_DIFFER, Moment, Number, Strict, Text
from webapp.store.edits import Faults

Json = dict[str, Any]
MOST_ADHESION = 0.5
# A warning may be typed before the working it is about begins, not a season before.
FURTHEST_AHEAD = timedelta(days=7)


@dataclass(frozen=True)
class Facts:
    """A warning that fits its line, ready to be kept."""

    line_key: str
    direction: str
    datum: str
    from_m: float
    to_m: float
    plan_state: str
    reason: str
    from_at: datetime
    review_at: datetime | None
    told_by: str
    reference: str
    told_at: datetime | None = None


def adhesion(**more: Any) -> Number:
    """The field of a typed adhesion."""
    return Number(
        allow_none=True,
        validate=_is_adhesion,
        metadata={"exclusiveMinimum": 0, "maximum": MOST_ADHESION},
        **more,
    )


def _is_adhesion(value: float) -> None:
    if not 0 < value <= MOST_ADHESION:
        raise ma.ValidationError(f"Type an adhesion above 0 and up to {MOST_ADHESION}.")


class TypedWarning(Strict):
    """The form of a warning; what depends on the line is checked with its pack."""

    line = Text(120, required=True)
    direction = Text(120, required=True)
    from_place = Text(40, load_default=None)
    to_place = Text(40, load_default=None)
    state = Text(120, load_default=None, allow_none=True)
    adhesion = adhesion(load_default=None)
    reason = Text(200, required=True)
    from_at = Moment(required=True)
    review_at = Moment(load_default=None, allow_none=True)
    told_by = Text(120, required=True)
    reference = Text(120, empty=True, load_default="")
    told_at = Moment(load_default=None, allow_none=True)


def state_for_adhesion(states: Sequence[State], adhesion: float) -> str:
    """Return the key of the first state of the chain that plans with no more than this."""
    worse = [one for one in states if one.plan <= adhesion]
    return (worse or states[-1:])[0].key


def fit(
    typed: Mapping[str, Any],
    bases: Mapping[str, Base],
    now: datetime,
    kept: tuple[str, float, float] | None = None,
) -> Facts:
    """Check what was typed against the packs in use, by line.

    ``kept`` is the datum and the two ends that a warning has already: they stay unless
    both are typed again.

    Raises
    ------
    Faults
        With every fault found.
    """
    try:
        given = TypedWarning().load(dict(typed))
    except ma.ValidationError as error:
        raise Faults(_lines(error.messages_dict)) from error
    base = bases.get(given["line"])
    if base is None:
        raise Faults([_not_one_of("line", given["line"], bases)])
    faults: list[str] = []
    directions = [one.key for one in base.directions]
    if given["direction"] not in directions:
        faults.append(_not_one_of("direction", given["direction"], directions))
    datum, *ends = _ends(base, given, kept, faults)
    state = _state(base.states, given, faults)
    _times(given, now, faults)
    if faults:
        raise Faults(faults)
    same = ("direction", "reason", "from_at", "review_at", "told_by", "reference", "told_at")
    return Facts(
        line_key=given["line"],
        datum=str(datum),
        from_m=min(map(float, ends)),
        to_m=max(map(float, ends)),
        plan_state=state,
        **{name: given[name] for name in same},
    )


def _ends(
    base: Base, given: Json, kept: tuple[str, float, float] | None, faults: list[str]
) -> tuple[str | float, ...]:
    """Return datum and both ends; a fault is added where they cannot be had."""
    unit = str(base.distance_unit)
    typed = {field: given[field] for field in ("from_place", "to_place")}
    if kept is not None and not any(typed.values()):
        return kept
    ends = {field: place_on_line(text or "", unit) for field, text in typed.items()}
    how = how_to_type(unit)
    bad = [field for field, metres in ends.items() if metres is None]
    faults += [
        f"{field}: {typed[field] or ''!r} is no place on this line. Type {how}."
        for field in bad
    ]
    found = [metres for metres in ends.values() if metres is not None]
    low, high = base.ends or (-math.inf, math.inf)
    if not bad and (max(found) < low or min(found) > high):
        faults.append(
            f"from_place, to_place: no part of it is on {base.name}. "
            "Type two places between its ends."
        )
    return (str(base.datum), *found)


def _state(states: Sequence[State], given: Json, faults: list[str]) -> str:
    keys = [one.key for one in states]
    if (given["state"] is None) == (given["adhesion"] is None):
        faults.append("state, adhesion: give one of the two, not both and not neither.")
        return ""
    if given["adhesion"] is not None:
        return state_for_adhesion(states, given["adhesion"])
    if given["state"] not in keys:
        faults.append(_not_one_of("state", given["state"], keys))
    return str(given["state"])


def _times(given: Json, now: datetime, faults: list[str]) -> None:
    if given["from_at"] > now + FURTHEST_AHEAD:
        faults.append(
            f"from_at: more than {FURTHEST_AHEAD.days} days ahead. Type it nearer the day."
        )
    if given["told_at"] is not None and given["told_at"] > now + CLOCKS_DIFFER:
        faults.append("told_at: still to come. Type when the depot was told.")
    if given["review_at"] is not None and given["review_at"] <= given["from_at"]:
        faults.append("review_at: not after from_at. Type a later time, or leave it out.")


def _not_one_of(field: str, value: str, known: Any) -> str:
    names = ", ".join(known) or "none; publish a pack first"
    return f"{field}: {value!r} is not known here. Type one of: {names}."


def _lines(errors: Mapping[str, Any]) -> list[str]:
    return [f"{field}: {' '.join(map(str, found))}" for field, found in errors.items()]
