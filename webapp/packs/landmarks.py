"""Landmarks made by rule: the posts along the line and each platform's entry ramp."""

from __future__ import annotations

import math

from calc.constants import MILE
from webapp.lines.posts import place_along
from webapp.packs.draft import Draft
from webapp.packs.model import DistanceUnit, Landmark, Stop

_QUARTERS = ("", "¼", "½", "¾")
_QUARTER = MILE / 4


def generated_landmarks(draft: Draft) -> list[Landmark]:
    directions = tuple(d.key for d in draft.directions)
    signs = {d.key: d.sign for d in draft.directions}
    posts = draft.one["posts"]
    every = posts["every"] if posts else 0.0
    first, last = draft.gradients[0].start, draft.gradients[-1].end
    return [
        *_posts(every, (first, last), directions, draft.distance_unit),
        *(_ramp(stop, signs[stop.direction]) for stop in draft.rows("stops.csv")),
    ]


def _posts(
    every: float, span: tuple[float, float], directions: tuple[str, ...], unit: DistanceUnit
) -> list[Landmark]:
    numbers = range(math.ceil(span[0] / every), math.floor(span[1] / every) + 1)
    return [
        Landmark(
            key=f"post-{number}",
            name=f"{post_words(number * every, unit)}",
            kind="post",
            at=round(number * every, 2),
            directions=directions,
            words=post_words(number * every, unit),
        )
        for number in numbers
    ]


def post_words(at: float, unit: DistanceUnit) -> str:
    """Return what stands on the post and what the card prints, "31¼ post"."""
    if unit == "km":
        return f"{round(at / 1000, 3):g} post"
    quarters = round(at / _QUARTER)
    if abs(at - quarters * _QUARTER) < 1.0:
        miles = "" if 0 < quarters < 4 else str(quarters // 4)
        return f"{miles}{_QUARTERS[quarters % 4]} post"
    return f"{place_along(at, unit)} post"


def _ramp(stop: Stop, sign: int) -> Landmark:
    """Return the end of the platform that a train meets first."""
    return Landmark(
        key=f"{stop.station}-{stop.direction}-ramp",
        name=f"{stop.station} platform ramp, {stop.direction}",
        kind="ramp",
        at=stop.start if sign > 0 else stop.end,
        directions=(stop.direction,),
        words="ramp",
        stop=(stop.station, stop.direction),
    )
