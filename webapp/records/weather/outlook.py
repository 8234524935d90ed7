"""The next 36 hours of a line: the state that weather proposes for each, with its reasons."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime
from statistics import fmean
from typing import Any
from zoneinfo import ZoneInfo

from sqlalchemy.orm import Session

from webapp.lines import in_use
from webapp.lines.base import Base, Listed
from webapp.plain.jsontext import rfc3339
from webapp.records.weather import held
from webapp.records.weather.models import WeatherChange, WeatherReading
from webapp.records.weather.reader import HOUR
from webapp.records.weather.service import Where, chain_of, suggest_from_file

Json = dict[str, Any]
HOURS = 36
#: Hours before the present one that tablets get too: what fell before a trip lies there.
BACK = 2
#: The state of leaf film, as `calc.weather.chain.CONDITIONS` has it.
LEAF = "leaf"
#: The reason of an hour that a person made worse.
BY_HAND = "desk"


@dataclass(frozen=True)
class OneHour:
    """One hour: the state that is proposed for it, why, what is unknown, what a person set.

    ``state`` is None where too little is known. ``by_weather`` is the state before a person
    made it worse.
    """

    at: datetime
    state: str | None
    by_weather: str | None
    reasons: tuple[str, ...]
    why: tuple[str, ...]
    unknown: tuple[str, ...]
    change: WeatherChange | None


@dataclass(frozen=True)
class Outlook:
    """What is held of a line, hour by hour from the present one on."""

    hours: tuple[OneHour, ...]
    too_old: bool
    doubts: tuple[str, ...]


def leafy(base: Base) -> bool:
    """Tell whether moisture in leaf-fall season means leaf film for the whole of a line.

    Where the register lists the places of leaf film, they keep their own state on every
    tablet, and the rest of the line is proposed as damp. Where leaves fall, or nobody said,
    and no such place is listed, nobody knows where: then it is the whole line.
    """
    return base.leaves_fall and not any(place.state == LEAF for place in base.listed)


def where_of(base: Base, zone: ZoneInfo) -> Where:
    """Return where a line lies, as the proposals of its pack have it."""
    points = base.way
    if not points:
        return Where(zone=zone, leafy=leafy(base))
    east, north = (round(fmean(point[n] for point in points), 1) for n in (0, 1))
    return Where(zone=zone, latitude=north, leafy=leafy(base), longitude=east)


def outlook(
    base: Base,
    row: WeatherReading | None,
    changes: Sequence[WeatherChange],
    zone: ZoneInfo,
    now: datetime,
    back: int = 0,
) -> Outlook:
    """Return what is proposed for the present hour, those after it and ``back`` before it.

    An hour stands at its end, as in the file: 07:00 is the hour from 06:00 to 07:00.

    Raises
    ------
    ValueError
        If a word of the weather has no state in this line's chain.
    """
    chain = chain_of(base.states)
    observed = held.hours_of(row) if row else ()
    where = where_of(base, zone)
    first = now.astimezone(UTC).replace(minute=0, second=0, microsecond=0) + HOUR
    found = []
    for at in (first + HOUR * n for n in range(-back, HOURS)):
        said = suggest_from_file(chain, observed, where, at)
        change = _worst(chain.keys, changes, at)
        state = said.state
        if change and (
            state is None or chain.keys.index(change.state) > int(chain.keys.index(state))
        ):
            state = change.state
        set_by_hand = state != said.state
        why = (BY_HAND, *said.why) if set_by_hand else said.why
        found.append(
            OneHour(
                at, state, said.state, said.reasons, why, said.unknown,
                change if set_by_hand else None,
            )
        )  # fmt: skip
    too_old = row is None or held.too_old(row, now)
    return Outlook(tuple(found), too_old, tuple(_doubts(row, found)))


def _worst(
    keys: Sequence[str], changes: Iterable[WeatherChange], at: datetime
) -> WeatherChange | None:
    """Return the worst of what a person set for any minute of the hour that ends at ``at``."""
    here = [
        one
        for one in changes
        if one.back_at is None
        and one.state in keys
        and one.from_at < at
        and one.until_at > at - HOUR
    ]
    return max(here, key=lambda one: keys.index(one.state), default=None)


def _doubts(row: WeatherReading | None, hours: Sequence[OneHour]) -> list[str]:
    if row is None:
        return []
    times = {datetime.fromisoformat(one[0]) for one in row.hours}
    said = []
    if row.away_km is not None and row.away_km > held.FAR_KM:
        far = f"The station is {row.away_km:.0f} km from the line: look at the sky there too."
        said.append(far)
    if row.away_km is None:
        said.append("Nobody said where the station is.")
    gaps = [one.at for one in hours if one.at not in times]
    last = max(times, default=None)
    if gaps and last is not None:
        inside = sum(at < last for at in gaps)
        if inside:
            said.append(
                f"{inside} of the next hours are missing in it: nothing is proposed there."
            )
        if inside < len(gaps):
            said.append(f"It ends before the {HOURS} hours do.")
    return said


def places_along(base: Base) -> list[Listed]:
    """Return the listed places of a line, along it."""
    return sorted(base.listed, key=lambda one: (min(one.from_m, one.to_m), one.name))


def told(session: Session, zone: ZoneInfo, now: datetime) -> list[Json]:
    """Return what tablets are told: every line in use that has weather, hour by hour."""
    items = []
    for line, pack in sorted(in_use.packs(session).items()):
        row = held.latest(session, line)
        if row is None or held.too_old(row, now):
            continue
        base = in_use.base(session, pack)
        try:
            found = outlook(base, row, held.changes(session, line, now), zone, now, BACK)
        except ValueError:
            # A chain without a state for a word of the weather: nothing can be proposed.
            continue
        items.append(_item(line, row, found))
    return items


def _item(line: str, row: WeatherReading, found: Outlook) -> Json:
    return {
        "id": str(row.id),
        "line": line,
        "given_at": rfc3339(row.given_at),
        "ends_at": rfc3339(row.given_at + held.TOO_OLD),
        "hours": [
            {"at": rfc3339(one.at), "state": one.state, "why": list(one.why)}
            for one in found.hours
        ],
    }
