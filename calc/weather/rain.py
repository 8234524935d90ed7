"""Rain on a rail: the first light rain, steady rain that washes it, and its drying."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from enum import Enum


class Wetting(Enum):
    """What the last hours of rain have made of the rail."""

    NONE = "no rain"
    FIRST = "first light rain after dry days"
    LIGHT = "light rain"
    STEADY = "steady rain"
    DRYING = "drying after rain"


@dataclass(frozen=True)
class RainRules:
    """Where one kind of rain ends and the next begins; each figure is an assumption.

    Attributes
    ----------
    steady_rate : float
        From this hour's rain on it can wash a rail: slight rain ends at 0.5 mm/h in
        British forecasts (from memory). [mm]
    washed : float
        Rain of one spell after which the film is taken to be washed. Assumption. [mm]
    dry_hours : int
        Dry for so long before, a rain is the first. Assumption: a day. [h]
    gap_hours : int
        Dry hours that do not end a spell. Assumption. [h]
    drying_hours : int
        So long after rain the rail goes from wet to dry. Assumption. [h]
    """

    steady_rate: float = 0.5
    washed: float = 2.0
    dry_hours: int = 24
    gap_hours: int = 2
    drying_hours: int = 3


@dataclass(frozen=True)
class Spell:
    """The rain up to now.

    Attributes
    ----------
    total : float
        Rain of the spell that lasts or has just ended. [mm]
    dry_before : int
        Dry hours seen before it. [h]
    seen_through : bool
        Whether those dry hours end in rain; if not, more may lie before the record.
    since : int
        Hours since it last rained; 0 while it rains. [h]
    """

    total: float
    dry_before: int
    seen_through: bool
    since: int


def wetting(hours: Sequence[float | None], rules: RainRules | None = None) -> Wetting | None:
    """Return what the rain of the last hours has made of the rail; None if unknown.

    Parameters
    ----------
    hours : sequence of float or None
        Rain in each hour, the oldest first, this hour last. [mm]
    rules : RainRules, optional

    Raises
    ------
    ValueError
        If there is no hour, or a figure is negative or not a number.

    Notes
    -----
    Where the record does not reach back far enough to tell the first light rain from a
    later one, it counts as the first: the worse of the two.
    """
    limits = rules or RainRules()
    _check(hours)
    if hours[-1] is None:
        return None
    spell = _last_spell(hours, limits)
    if spell is None:
        return Wetting.NONE if _seen_dry(hours, limits) else None
    if spell.since > limits.drying_hours:
        return Wetting.NONE
    if spell.since > 0:
        return Wetting.DRYING
    if hours[-1] >= limits.steady_rate and spell.total >= limits.washed:
        return Wetting.STEADY
    long_dry = spell.dry_before >= limits.dry_hours or not spell.seen_through
    if spell.total < limits.washed and long_dry:
        return Wetting.FIRST
    return Wetting.LIGHT


def _check(hours: Sequence[float | None]) -> None:
    if len(hours) == 0:
        raise ValueError("rain needs at least the present hour")
    for number, figure in enumerate(hours):
        if figure is not None and not figure >= 0:
            raise ValueError(f"rain in hour {number} must be 0 mm or more, got {figure}")


def _seen_dry(hours: Sequence[float | None], rules: RainRules) -> bool:
    """Tell whether every hour was seen in which rain would still have left its mark."""
    lately = hours[-rules.drying_hours - 1 :]
    return len(lately) > rules.drying_hours and None not in lately


def _last_spell(hours: Sequence[float | None], rules: RainRules) -> Spell | None:
    """Walk back from now; None if no rain is seen before the record ends or breaks."""
    total, since, dry, raining = 0.0, 0, 0, False
    for back, hour in enumerate(reversed(hours)):
        if hour is None:
            break
        if hour == 0:
            dry += 1
            continue
        if raining and dry > rules.gap_hours:
            return Spell(total, dry, True, since)
        if not raining:
            since = back
        raining, dry, total = True, 0, total + hour
    return Spell(total, dry, False, since) if raining else None
