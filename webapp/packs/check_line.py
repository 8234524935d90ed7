"""The line itself: gradients and speeds without gaps, a map that fits, landmarks."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise
from typing import Protocol

from webapp.lines.posts import place_along
from webapp.packs.draft import Draft
from webapp.packs.faults import FaultList
from webapp.packs.geometry import length_between, length_if_swapped
from webapp.packs.model import Landmark, Point

#: A post every quarter mile is set out by eye; the map may differ by this much.
MAP_TOLERANCE = 0.01
#: Short pieces of map are judged with this much more room. [m]
MAP_ROUNDING = 15.0
#: Two landmarks on one approach must not be called the same. [m]
SAME_WORDS_WITHIN = 6000.0
TINY = 0.02
_LOWER_FIRST = {
    "gradient": "put the lower distance in 'from', and write up or down as seen towards"
    " rising distance",
    "speed": "put the lower distance in 'from'",
}


class Stretch(Protocol):
    @property
    def start(self) -> float: ...
    @property
    def end(self) -> float: ...
    @property
    def row(self) -> int: ...


def line_span(draft: Draft) -> tuple[float, float] | None:
    """Return where the line begins and ends, if the gradients say so without doubt."""
    rows = draft.gradients
    bad = faulty_ends(draft)
    return None if bad or not rows else (rows[0].start, rows[-1].end)


def faulty_ends(draft: Draft) -> bool:
    rows = draft.gradients
    return not rows or any(row.start >= row.end for row in (rows[0], rows[-1]))


def check_gradients(draft: Draft, faults: FaultList) -> None:
    _check_stretches("gradients.csv", draft.gradients, draft, "gradient", faults)


def check_speeds(draft: Draft, faults: FaultList) -> None:
    span = line_span(draft)
    for direction in draft.directions:
        rows = [row for row in draft.rows("speeds.csv") if row.direction == direction.key]
        _check_stretches("speeds.csv", rows, draft, "speed", faults)
        if span and not faults.bad_rows("speeds.csv"):
            _check_ends(direction.key, rows, span, draft, faults)


def _check_stretches(
    file: str, rows: Sequence[Stretch], draft: Draft, what: str, faults: FaultList
) -> None:
    bad = faults.bad_rows(file)
    for row in rows:
        if row.start >= row.end:
            problem = f"from {_at(row.start, draft)} to {_at(row.end, draft)} does not rise"
            faults.add(file, row.row, "to", problem, _LOWER_FIRST[what])
    for one, other in pairwise(rows):
        between = bad & set(range(one.row, other.row + 1))
        if between or one.start >= one.end or other.start >= other.end:
            continue
        step = other.start - one.end
        if abs(step) > TINY:
            name = "gap" if step > 0 else "overlap"
            problem = (
                f"{name} of {abs(step):.0f} m: row {one.row} ends at {_at(one.end, draft)},"
                f" this row begins at {_at(other.start, draft)}"
            )
            cure = (
                f"look up in the line's own list where the {what} changes, and let one row end"
                " and the next begin there"
                if step < 0
                else f"add the {what} that is missing, from the line's own list"
            )
            faults.add(file, other.row, "from", problem, cure)


def _check_ends(
    key: str,
    rows: Sequence[Stretch],
    span: tuple[float, float],
    draft: Draft,
    faults: FaultList,
) -> None:
    if not rows:
        cure = f"add rows for '{key}' from {_at(span[0], draft)} to {_at(span[1], draft)}"
        faults.add("speeds.csv", 1, "direction", f"no speed for the direction '{key}'", cure)
        return
    for row, column, found, wanted in (
        (rows[0], "from", rows[0].start, span[0]),
        (rows[-1], "to", rows[-1].end, span[1]),
    ):
        if abs(found - wanted) > TINY:
            problem = f"the speeds {column} {_at(found, draft)} do not reach the line's end"
            cure = (
                f"add the speed as posted there, so that the file reaches"
                f" {_at(wanted, draft)} as gradients.csv does"
            )
            faults.add("speeds.csv", row.row, column, problem, cure)


def check_geometry(draft: Draft, faults: FaultList) -> None:
    file, points = "line.geojson", draft.points
    if faults.has(file) or not points:
        return
    for one, other in pairwise(points):
        if other.at <= one.at:
            problem = f"{_at(other.at, draft)} is not beyond point {one.row}"
            faults.add(file, other.row, "at", problem, "put the points in order of distance")
            return
    span = line_span(draft)
    if span and (points[0].at > span[0] + 1 or points[-1].at < span[1] - 1):
        problem = "the map does not reach both ends of the line"
        cure = f"draw it from {_at(span[0], draft)} to {_at(span[1], draft)}"
        faults.add(file, len(points), "at", problem, cure)
    _check_lengths(file, points, faults)


def _check_lengths(file: str, points: list[Point], faults: FaultList) -> None:
    wrong = [pair for pair in pairwise(points) if not _fits(length_between(*pair), *pair)]
    if not wrong:
        _check_whole_length(file, points, faults)
        return
    swapped = [length_if_swapped(*pair) for pair in pairwise(points)]
    pairs = list(zip(swapped, pairwise(points), strict=True))
    if len(wrong) > 2 and all(s is not None and _fits(s, *pair) for s, pair in pairs):
        problem = "longitude and latitude are swapped"
        faults.add(file, wrong[0][0].row, "lon", problem, "write [longitude, latitude]")
        return
    for one, other in wrong:
        problem = (
            f"from point {one.row} it is {length_between(one, other):.0f} m on the map"
            f" but {other.at - one.at:.0f} m by 'at'"
        )
        faults.add(file, other.row, "at", problem, "mend one of the two (1 % allowed)")


def _check_whole_length(file: str, points: list[Point], faults: FaultList) -> None:
    on_map = sum(length_between(*pair) for pair in pairwise(points))
    by_posts = points[-1].at - points[0].at
    if abs(on_map - by_posts) > MAP_TOLERANCE * by_posts:
        problem = f"the whole line is {on_map:.0f} m on the map but {by_posts:.0f} m by 'at'"
        faults.add(file, len(points), "at", problem, "mend positions or 'at' (1 % allowed)")


def _fits(length: float, one: Point, other: Point) -> bool:
    by_posts = other.at - one.at
    return abs(length - by_posts) <= max(MAP_TOLERANCE * by_posts, MAP_ROUNDING)


def check_landmarks(draft: Draft, faults: FaultList) -> None:
    span = line_span(draft)
    rows: list[Landmark] = sorted(draft.rows("landmarks.csv"), key=lambda mark: mark.at)
    for number, landmark in enumerate(rows):
        if span and not span[0] - TINY <= landmark.at <= span[1] + TINY:
            problem = f"{_at(landmark.at, draft)} is off the line"
            cure = f"give a place from {_at(span[0], draft)} to {_at(span[1], draft)}"
            faults.add("landmarks.csv", landmark.row, "at", problem, cure)
        for other in rows[number + 1 :]:
            if other.at - landmark.at > SAME_WORDS_WITHIN:
                break
            _check_words(landmark, other, faults)


def _check_words(one: Landmark, other: Landmark, faults: FaultList) -> None:
    if one.words == other.words and set(one.directions) & set(other.directions):
        problem = f"'{other.words}' is also row {one.row}, {other.at - one.at:.0f} m away"
        cure = "give each landmark words that name one thing only"
        faults.add("landmarks.csv", max(one.row, other.row), "words", problem, cure)


def _at(metres: float, draft: Draft) -> str:
    return place_along(metres, draft.distance_unit)
