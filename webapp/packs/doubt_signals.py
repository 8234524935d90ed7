"""Doubts about signals and landmarks: one list of a route against another."""

from __future__ import annotations

import re
from collections.abc import Sequence
from itertools import pairwise

from webapp.lines.posts import place_along
from webapp.packs.doubt_list import DoubtList
from webapp.packs.model import Landmark, NotPast, Route, Stop

#: A signal of one list and of another that are this near are the same one. [m]
SAME = 15.0
#: A signal this far past a platform still guards its stop. [m]
GUARDS = 100.0
#: Signals of the two directions stand this near where they stand in pairs. [m]
PAIR = 60.0
#: Signals a line needs, and the share of them in pairs, before one alone is odd.
PAIRS_FROM, PAIRED = 10, 0.9
#: Two landmarks of one kind this near each other are looked at. [m]
SAME_THING = 10.0

_SIGNALS = "the line's signalling plan"
_NUMBER = re.compile(r"\d+")


def doubt_signals(route: Route, found: DoubtList) -> None:
    signals = [mark for mark in route.landmarks if mark.kind == "signal" and mark.row]
    for limit in route.not_past:
        if limit.what == "signal":
            _doubt_limit(route, limit, signals, found)
    for signal in signals:
        _doubt_guards(route, signal, found)
    _doubt_pairs(route, signals, found)
    for landmark in route.landmarks:
        if landmark.row:
            _doubt_words(landmark, found)
    _doubt_twice(route, found)
    _doubt_order(route, found)


def _doubt_limit(
    route: Route, limit: NotPast, signals: Sequence[Landmark], found: DoubtList
) -> None:
    near = [
        s for s in signals if limit.direction in s.directions and abs(s.at - limit.at) < SAME
    ]
    if not near:
        found.add(
            *("signal", "not_past.csv", limit.row, "what"),
            f"the signal at {limit.station} ({limit.direction}) is not in landmarks.csv",
            *(_SIGNALS, f"{limit.station} {limit.direction} signal", limit),
        )


def _doubt_guards(route: Route, signal: Landmark, found: DoubtList) -> None:
    """Ask about a signal just past a platform that nothing forbids to pass."""
    for stop in route.stops:
        near = stop.start - GUARDS <= signal.at <= stop.end + GUARDS
        if not near or stop.direction not in signal.directions:
            continue
        if not _past(route, stop, signal.at):
            continue
        sign = route.direction(stop.direction).sign
        here = [n for n in route.not_past if (n.station, n.direction) == _key(stop)]
        # A second signal further on changes nothing: the nearest counts.
        if not any(n.what == "signal" and sign * (n.at - signal.at) < SAME for n in here):
            found.add(
                *("signal", "landmarks.csv", signal.row, "at"),
                f"'{signal.words}' stands at or just past {stop.station} ({stop.direction}),"
                " but not_past.csv has no such signal there",
                *(_SIGNALS, f"{signal.key} {stop.station}", signal, stop),
            )


def _key(stop: Stop) -> tuple[str, str]:
    return stop.station, stop.direction


def _past(route: Route, stop: Stop, at: float) -> bool:
    """Tell whether a place lies beyond the stop marks, and not far past the platform."""
    sign = route.direction(stop.direction).sign
    marks = [m.at for m in route.marks if (m.station, m.direction) == _key(stop)]
    end = stop.end if sign > 0 else stop.start
    first = min((sign * mark for mark in marks), default=sign * end)
    return first < sign * at <= sign * end + GUARDS


def _doubt_pairs(route: Route, signals: Sequence[Landmark], found: DoubtList) -> None:
    """Ask about a signal that stands alone where nearly all stand in pairs."""
    one_way = [s for s in signals if len(s.directions) == 1]
    alone = [
        signal
        for signal in one_way
        if not any(
            other.directions != signal.directions and abs(other.at - signal.at) < PAIR
            for other in one_way
        )
    ]
    if len(one_way) < PAIRS_FROM or len(alone) > (1 - PAIRED) * len(one_way):
        return
    for signal in alone:
        at = place_along(signal.at, route.head.distance_unit)
        message = (
            f"'{signal.words}' at {at} stands alone; the others have one of the other"
            f" direction within {PAIR:g} m: is one missing"
        )
        place = f"{signal.key} alone"
        found.add(
            *("signal", "landmarks.csv", signal.row, "at", message, _SIGNALS, place, signal)
        )


def _doubt_words(landmark: Landmark, found: DoubtList) -> None:
    """Ask about a landmark whose name and words have different numbers."""
    numbers = [
        set(_NUMBER.findall(text)) for text in (landmark.key, landmark.name, landmark.words)
    ]
    if landmark.kind == "signal" and any(one != numbers[0] for one in numbers[1:]):
        message = f"'{landmark.key}' is called '{landmark.name}' and '{landmark.words}'"
        found.add(
            *("words", "landmarks.csv", landmark.row, "words", message, _SIGNALS),
            *(landmark.key, landmark),
        )


def _doubt_order(route: Route, found: DoubtList) -> None:
    """Ask about a landmark out of place in a list that is else in order of distance."""
    rows = sorted((mark for mark in route.landmarks if mark.row), key=lambda mark: mark.row)
    odd = [
        here
        for before, here, after in zip(rows, rows[1:], rows[2:], strict=False)
        if before.at <= after.at and not before.at <= here.at <= after.at
    ]
    if len(rows) < PAIRS_FROM or len(odd) > (1 - PAIRED) * len(rows):
        return
    for landmark in odd:
        at = place_along(landmark.at, route.head.distance_unit)
        message = f"'{landmark.words}' at {at} is out of order: is a figure mistyped"
        look = "its place, and those of the rows above and below"
        where = ("landmarks.csv", landmark.row, "at")
        found.add("order", *where, message, look, f"{landmark.key} order", landmark)


def _doubt_twice(route: Route, found: DoubtList) -> None:
    rows = sorted((m for m in route.landmarks if m.row), key=lambda mark: mark.at)
    for one, other in pairwise(rows):
        near = other.at - one.at < SAME_THING and other.kind == one.kind
        if near and set(one.directions) & set(other.directions):
            found.add(
                *("twice", "landmarks.csv", other.row, "at"),
                f"'{other.words}' stands {other.at - one.at:.0f} m from '{one.words}'",
                "both places: is it one thing written twice",
                *(other.key, one, other),
            )
