"""A proposed rail state from four questions a driver can answer by looking.

For a tablet without weather from the depot. All answers are worked out beforehand, for each
month and hour, so that the tablet only looks one up. Nobody has measured a temperature here,
so nothing better than damp is proposed in hours in which dew may lie where nobody looks.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import product

from .chain import Chain
from .findings import TRACE, Finding, from_rain, from_word
from .observation import Hour
from .rain import wetting
from .season import in_days, leaf_fall_days
from .suggest import from_season
from .sun import rail_keeps_night

#: Each question with its answers, in the order they are asked. ``rain``: now; ``dry``: how
#: long it had been dry before the rain, or has been by now; ``dew``: mist, or dew to be seen;
#: ``frost``: white frost to be seen.
QUESTIONS: tuple[tuple[str, tuple[str, ...]], ...] = (
    ("rain", ("none", "light", "steady")),
    ("dry", ("hours", "day", "days", "unknown")),
    ("dew", ("no", "yes")),
    ("frost", ("no", "yes")),
)
#: First and last day of each month in a year of 365 days.
_MONTHS = tuple(
    (sum(lengths[:n]) + 1, sum(lengths[: n + 1]))
    for lengths in ((31, 28, 31, 30, 31, 30, 31, 31, 30, 31, 30, 31),)
    for n in range(12)
)
#: Hours by which a clock may be ahead of the sun: summer time and a line far west in its
#: zone. Assumption. [h]
CLOCK_AHEAD = 2
#: From the one hour of the evening to the other of the morning dew may form out of sight while
#: the sun is low; between them even a low winter sun is taken to keep a rail dry. Assumption,
#: after the hours of more incidents (`season.INCIDENT_HOURS`). [h]
DEW_HOURS = (20, 10)
#: What a short answer stands for, in hours of rain figures, the oldest first. [mm]
_WASHED, _STEADY = 2.0, 1.0


@dataclass(frozen=True)
class Asked:
    """What the driver has seen; each is one of the answers in `QUESTIONS`.

    Raises
    ------
    ValueError
        If an answer is none of them.
    """

    rain: str
    dry: str
    dew: str
    frost: str

    def __post_init__(self) -> None:
        """Refuse what nobody could have answered."""
        for name, answers in QUESTIONS:
            if getattr(self, name) not in answers:
                raise ValueError(f"{name} '{getattr(self, name)}' is not one of {answers}")


@dataclass(frozen=True)
class Proposal:
    """A place of the chain and why, the decisive reason first (see `findings.REASONS`)."""

    index: int
    why: tuple[str, ...]


def all_answers() -> tuple[Asked, ...]:
    """Return every set of answers, the last question changing quickest."""
    return tuple(Asked(*each) for each in product(*(answers for _, answers in QUESTIONS)))


@dataclass(frozen=True)
class Around:
    """What date and place add to the answers.

    Attributes
    ----------
    dew : bool
        Whether dew may lie where nobody looks.
    in_season : bool or None
        Whether it is the season of falling leaves; None: not known for this latitude.
    leafy : bool
        Whether leaves fall on this line.
    """

    dew: bool
    in_season: bool | None
    leafy: bool


def around(month: int, hour: int, leafy: bool, latitude: float) -> Around:
    """Return what date and place add.

    Parameters
    ----------
    month : int
        1 to 12; its worst day counts.
    hour : int
        0 to 23, by the clock of the line; its worst minute counts.
    leafy : bool
        Whether leaves fall on this line.
    latitude : float
        North positive. [deg]

    Raises
    ------
    ValueError
        If there is no such month, hour or latitude.
    """
    if not 1 <= month <= 12 or not 0 <= hour <= 23:
        raise ValueError(f"there is no month {month} or no hour {hour}")
    first, last = _MONTHS[month - 1]
    season = leaf_fall_days(latitude)
    in_season = (
        None if season is None else any(in_days(d, *season) for d in range(first, last + 1))
    )
    return Around(dew_may_lie(month, hour, latitude), in_season, leafy)


def propose(chain: Chain, asked: Asked, here: Around) -> Proposal:
    """Return the rail state that answers, date and place propose.

    Parameters
    ----------
    chain : Chain
    asked : Asked
    here : Around

    Notes
    -----
    How long it had been dry: "unknown" counts as days. "Steady" is rain for an hour or
    more that has wetted everything; it alone washes a rail. Where nothing is seen but dew
    may lie out of sight the answer is damp, not leaf film: an own look weighs more than a
    likelihood, and listed places have their own state (assumption).
    """
    findings = _seen(asked)
    if findings:
        findings += from_season(findings, here.in_season, here.leafy)
    elif here.dew:
        findings = [Finding("damp", "dew-likely", "dew may lie where nobody looked")]
    else:
        findings = [Finding("dry", "dry", "nothing wet was seen")]
    ordered = sorted(findings, key=lambda one: -chain.index(one.condition))
    worst = chain.picked(chain.index(ordered[0].condition))
    return Proposal(worst, tuple(dict.fromkeys(one.code for one in ordered)))


def dew_may_lie(month: int, hour: int, latitude: float) -> bool:
    """Tell whether on some day of the month a rail may be cold enough for dew in this hour."""
    evening, morning = DEW_HOURS
    if morning <= hour < evening:
        return False
    hours = ((hour - CLOCK_AHEAD) % 24, hour, hour + 1)
    return any(
        rail_keeps_night(day, latitude, each) for day in _MONTHS[month - 1] for each in hours
    )


def _seen(asked: Asked) -> list[Finding]:
    found = from_rain(wetting(_hours(asked)), Hour())
    if asked.dew == "yes":
        found += from_word(Hour(word="mist"))
    if asked.frost == "yes":
        found += from_word(Hour(word="frost"))
    return found


def _hours(asked: Asked) -> Sequence[float | None]:
    """Return hours of rain that mean what was answered."""
    dry = {"hours": 1, "day": 12, "days": 30, "unknown": 30}[asked.dry]
    if asked.rain == "steady":
        return (*_before(asked, dry), _STEADY, _STEADY)
    return (*_before(asked, dry), TRACE if asked.rain == "light" else 0.0)


def _before(asked: Asked, dry: int) -> Sequence[float | None]:
    # Dry for so long that nobody knows what was before it.
    rained: tuple[float, ...] = () if asked.dry == "unknown" else (_WASHED,)
    return (*rained, *([0.0] * dry))
