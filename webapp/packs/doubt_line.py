"""Doubts about the line itself: gradients against heights and neighbours, posted speeds."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise

from webapp.packs.doubt_list import DoubtList
from webapp.packs.model import Gradient, Height, Route, Speed

#: Steeper than this is rare on a line for multiple units.
STEEP = 1 / 25
#: Gradients that meet seldom differ by more than this. [-]
SHARP = 0.02
#: Heights in whole metres, and in parts of one, are trusted this far. [m]
WHOLE_METRES, PARTS = 2.0, 0.5
#: A gradient is rounded to "1 in so much"; a rise may differ by this share.
RISE_SHARE = 0.1
#: Speeds of the two directions that differ by this share over this length are looked at.
UNLIKE, UNLIKE_OVER = 0.25, 1000.0
#: A speed over or under both its neighbours by this factor.
JUMP = 1.7

_GRADIENTS = "the line's own list of gradients, and the heights at both ends"


def doubt_line(route: Route, found: DoubtList) -> None:
    heights = sorted(route.heights, key=lambda point: point.at)
    turned = _doubt_heights(route, heights, found)
    for number, gradient in enumerate(route.gradients):
        if abs(gradient.ratio) > STEEP + 1e-9:
            message = f"{_words(gradient)} is steeper than 1 in 25"
            _add("steep", gradient, message, found)
        if gradient not in turned and not _borne_out(gradient, heights):
            _doubt_neighbours(route, number, found)
    _doubt_speeds(route, found)


def _add(kind: str, gradient: Gradient, message: str, found: DoubtList, *more: object) -> None:
    place = f"{gradient.start:.0f} m"
    found.add(
        *(kind, "gradients.csv", gradient.row, "gradient", message, _GRADIENTS, place),
        *(gradient, *more),
    )


def _words(gradient: Gradient) -> str:
    if gradient.ratio == 0:
        return "level"
    return f"1 in {abs(1 / gradient.ratio):g} {'up' if gradient.ratio > 0 else 'down'}"


def _doubt_neighbours(route: Route, number: int, found: DoubtList) -> None:
    """Ask about a rise between two falls, a fall between two rises, or a sharp change."""
    here = route.gradients[number]
    beside = [
        *route.gradients[max(number - 1, 0) : number],
        *route.gradients[number + 1 :][:1],
    ]
    against = len(beside) == 2 and all(here.ratio * one.ratio < 0 for one in beside)
    # Of two that meet sharply, the steeper one is asked about.
    sharp = any(
        here.ratio * one.ratio < 0
        and abs(here.ratio - one.ratio) > SHARP
        and abs(here.ratio) >= abs(one.ratio)
        for one in beside
    )
    if against or sharp:
        words = " and ".join(_words(one) for one in beside)
        message = f"{_words(here)} beside {words}: is its sign turned"
        _add("sign", here, message, found, *beside)


def _doubt_heights(route: Route, heights: Sequence[Height], found: DoubtList) -> set[Gradient]:
    """Ask about each gradient that rises otherwise than the heights do."""
    asked: set[Gradient] = set()
    for gradient in route.gradients:
        inside = [p for p in heights if gradient.start <= p.at <= gradient.end]
        if len(inside) > 1 and _misfit(route, inside[0], inside[-1], heights):
            asked.add(gradient)
    for one, other in pairwise(heights):
        here = [g for g in route.gradients if g.start < other.at and g.end > one.at]
        if here and not asked & set(here) and _misfit(route, one, other, heights):
            asked.add(_likeliest(here, one, other, _rise(route, one, other)))
    for gradient in route.gradients:
        if gradient in asked:
            written = _change(gradient.ratio * gradient.length)
            message = (
                f"{_words(gradient)} {written} over {gradient.length:.0f} m; by the heights"
                f" it {_change(_climb(heights, gradient))}"
            )
            near = [p for p in heights if gradient.start - 1e3 < p.at < gradient.end + 1e3]
            _add("height", gradient, message, found, near)
    return asked


def _misfit(route: Route, one: Height, other: Height, heights: Sequence[Height]) -> bool:
    by_gradients, by_heights = _rise(route, one, other), other.height - one.height
    allowed = _trust(heights) + RISE_SHARE * abs(by_heights)
    return abs(by_gradients - by_heights) > allowed


def _trust(heights: Sequence[Height]) -> float:
    return WHOLE_METRES if all(p.height.is_integer() for p in heights) else PARTS


def _rise(route: Route, one: Height, other: Height) -> float:
    return sum(g.ratio * _shared(g, one.at, other.at) for g in route.gradients)


def _shared(gradient: Gradient | Speed, start: float, end: float) -> float:
    return max(0.0, min(gradient.end, end) - max(gradient.start, start))


def _likeliest(
    here: Sequence[Gradient], one: Height, other: Height, by_gradients: float
) -> Gradient:
    """Return the gradient whose turned sign would explain most of a misfit."""
    misfit = by_gradients - (other.height - one.height)
    return min(here, key=lambda g: abs(misfit - 2 * g.ratio * _shared(g, one.at, other.at)))


def _change(rise: float) -> str:
    return f"{'rises' if rise >= 0 else 'falls'} {abs(rise):.1f} m"


def _climb(heights: Sequence[Height], gradient: Gradient) -> float:
    return _height_at(heights, gradient.end) - _height_at(heights, gradient.start)


def _height_at(heights: Sequence[Height], at: float) -> float:
    for one, other in pairwise(heights):
        if at <= other.at and other.at > one.at:
            share = max(0.0, (at - one.at) / (other.at - one.at))
            return one.height + share * (other.height - one.height)
    return heights[-1].height


def _borne_out(gradient: Gradient, heights: Sequence[Height]) -> bool:
    """Tell whether the heights are fine enough to say that this sign is right."""
    if len(heights) < 2 or gradient.start < heights[0].at or gradient.end > heights[-1].at:
        return False
    by_height = _climb(heights, gradient)
    return gradient.ratio * by_height > 0 and abs(by_height) > _trust(heights) / 2


def _doubt_speeds(route: Route, found: DoubtList) -> None:
    look = "the line's own list of speeds, and at the boards"
    for direction in route.directions:
        rows = [row for row in route.speeds if row.direction == direction.key]
        others = [row for row in route.speeds if row.direction != direction.key]
        for number, row in enumerate(rows):
            beside = rows[max(number - 1, 0) : number] + rows[number + 1 : number + 2]
            place = f"{row.direction} {row.start:.0f} m"
            where = ("speeds.csv", row.row, "speed")
            if len(beside) == 2 and _jumps(row, beside):
                message = f"{row.speed} between {beside[0].speed} and {beside[1].speed}"
                found.add("jump", *where, message, look, place, row, beside)
            unlike = next((one for one in others if _unlike(row, one)), None)
            if unlike and direction.sign > 0:
                message = f"{row.speed} here, but {unlike.speed} towards the other end"
                found.add("unlike", *where, message, look, place, row, unlike)


def _jumps(row: Speed, beside: Sequence[Speed]) -> bool:
    low, high = sorted(one.speed for one in beside)
    return row.speed > JUMP * high or row.speed * JUMP < low


def _unlike(row: Speed, other: Speed) -> bool:
    apart = abs(row.speed - other.speed) > UNLIKE * max(row.speed, other.speed) - 1e-9
    return apart and _shared(row, other.start, other.end) >= UNLIKE_OVER
