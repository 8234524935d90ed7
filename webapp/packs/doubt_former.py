"""Doubts against the pack in use: what moved, turned or went since it was built."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from webapp.lines.posts import place_along
from webapp.packs.axes import nearest_limit
from webapp.packs.doubt_list import DoubtList
from webapp.packs.model import Gradient, Landmark, Route

#: Places that differ by more than this have moved. [m]
MOVED = 1.0
#: A gradient of the other sign over this length is turned. [m]
TURNED_OVER = 50.0

_SITE = "the place on the line, or the notice of the change"
Json = Mapping[str, Any]


def doubt_former(route: Route, former: Json, found: DoubtList) -> None:
    _doubt_landmarks(route, former, found)
    for gradient in route.gradients:
        _doubt_gradient(route, gradient, former, found)
    _doubt_signals(route, former, found)
    _doubt_stops(route, former, found)


def _doubt_landmarks(route: Route, former: Json, found: DoubtList) -> None:
    mine = {mark.key: mark for mark in route.landmarks if mark.row}
    made = {mark.key for mark in route.landmarks if not mark.row}
    for old in former.get("landmarks", ()):
        at, key = place_along(old["at_m"], route.head.distance_unit), old["key"]
        here = mine.get(key)
        if here is None and key not in made and old["kind"] not in ("post", "ramp"):
            found.add(
                *("moved", "landmarks.csv", 0, "key"),
                f"'{old['words']}' at {at} is in the pack in use and not in this route",
                *(_SITE, key, old),
            )
        elif here is not None and _differs(here, old):
            message = f"'{key}' was at {at} ({' '.join(old['directions'])}) in the pack in use"
            found.add(
                *("moved", "landmarks.csv", here.row, "at", message, _SITE, key, here, old)
            )


def _differs(here: Landmark, old: Json) -> bool:
    moved = abs(here.at - float(old["at_m"])) > MOVED
    return moved or sorted(here.directions) != sorted(old["directions"])


def _doubt_gradient(route: Route, gradient: Gradient, former: Json, found: DoubtList) -> None:
    turned = [
        [start, end, ratio]
        for start, end, ratio in former.get("gradients", ())
        if ratio * gradient.ratio < 0
        and min(end, gradient.end) - max(start, gradient.start) > TURNED_OVER
    ]
    if turned:
        was = f"1 in {abs(1 / turned[0][2]):.0f} {'up' if turned[0][2] > 0 else 'down'}"
        found.add(
            *("moved", "gradients.csv", gradient.row, "gradient"),
            f"the pack in use has {was} here: is the sign turned",
            *(_SITE, f"{gradient.start:.0f} m", gradient, turned),
        )


def _doubt_signals(route: Route, former: Json, found: DoubtList) -> None:
    mine = {(row.signal, row.direction) for row in route.signals}
    for old in former.get("signals", ()):
        if (old["key"], old["direction"]) not in mine:
            found.add(
                *("moved", "signals.csv", 0, "signal"),
                f"'{old['words']}' ({old['direction']}) is in the pack in use and not here",
                *(_SITE, f"{old['key']} {old['direction']}", old),
            )


def _doubt_stops(route: Route, former: Json, found: DoubtList) -> None:
    """Ask about a stop where a train may now go further than before."""
    olds = {one["key"]: one for one in former.get("targets", ()) if one["place"]}
    trains = former.get("trains", ())
    for stop in route.stops:
        sign = route.direction(stop.direction).sign
        place = f"{stop.station} {stop.direction}"
        old = olds.get(f"{stop.station}/{stop.direction}")
        if old is None:
            continue
        limit, what = nearest_limit(route, stop, sign)
        before = next((at for at in old["limit_m"] if at is not None), None)
        if before is not None and sign * (limit - before) > MOVED:
            message = (
                f"what must not be passed at {stop.station} ({stop.direction}) is"
                f" {sign * (limit - before):.0f} m further than in the pack in use"
                f" ({old['limit_kind']} then, {what} now)"
            )
            found.add(
                *("moved", "not_past.csv", 0, "at", message, _SITE, place),
                *(limit, what, before, old["limit_kind"]),
            )
        was = {t["cars"]: at for t, at in zip(trains, old["mark_m"], strict=False)}
        for mark in route.marks:
            mine = (mark.station, mark.direction) == (stop.station, stop.direction)
            at = was.get(mark.cars)
            if mine and at is not None and sign * (mark.at - at) > MOVED:
                further = sign * (mark.at - at)
                message = (
                    f"the mark for {mark.cars} cars is {further:.0f} m further than in the"
                    " pack in use"
                )
                found.add(
                    *("moved", "marks.csv", mark.row, "at", message, _SITE),
                    *(f"{place} {mark.cars}", mark, at),
                )
