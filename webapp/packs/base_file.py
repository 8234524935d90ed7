"""The base file of a pack: everything about the line that is not a computed figure."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from webapp.packs import levels
from webapp.packs.axes import PackTarget, TrainVariant
from webapp.packs.fixed_words import FIXED_WORDS
from webapp.packs.inferred import inferred_entries
from webapp.packs.model import Landmark, Listed, Route, TrainType, Trip
from webapp.packs.names import names_in
from webapp.packs.proposals import proposals_block

Json = dict[str, Any]


@dataclass(frozen=True)
class Reach:
    """What the calculation found about a target: see FORMAT.md, base.targets."""

    approach_speed: tuple[int, ...]
    reach_m: tuple[int, ...]


def sorted_landmarks(route: Route) -> tuple[Landmark, ...]:
    return tuple(sorted(route.landmarks, key=lambda landmark: (landmark.at, landmark.key)))


def seen_landmarks(
    route: Route, landmarks: tuple[Landmark, ...], target: PackTarget, reach: float
) -> list[tuple[int, float]]:
    """Return (index, metres before the first mark) of a target's landmarks, as travelled.

    Ramps count only for their own stop, where the one word says which.
    """
    sign = route.direction(target.direction).sign
    mark = min((m for m in target.marks if m is not None), key=lambda m: sign * m)
    found = [
        (index, sign * (mark - landmark.at))
        for index, landmark in enumerate(landmarks)
        if target.direction in landmark.directions
        and landmark.stop in (None, (target.place, target.direction))
    ]
    near = [pair for pair in found if 0 < pair[1] <= reach + route.head.mark_limit_m]
    return sorted(near, key=lambda pair: -pair[1])


def base_file(
    route: Route,
    trains: tuple[TrainVariant, ...],
    targets: tuple[PackTarget, ...],
    reaches: tuple[Reach, ...],
) -> Json:
    landmarks = sorted_landmarks(route)
    inferred = inferred_entries(route)
    content = {
        "format": "step-in-hand/base",
        "version": 1,
        "route": _head(route),
        "directions": [
            {"key": d.key, "name": d.name, "sign": d.sign} for d in route.directions
        ],
        "places": [
            {"key": s.key, "name": s.name, "kind": s.kind, "at_m": s.at}
            for s in sorted(route.stations, key=lambda station: station.at)
        ],
        "targets": [
            _target(route, landmarks, target, reach)
            for target, reach in zip(targets, reaches, strict=True)
        ],
        "landmarks": [_landmark(landmark) for landmark in landmarks],
        "gradients": [[g.start, g.end, round(g.ratio, 6)] for g in route.gradients],
        "limits": {
            d.key: [[s.start, s.end, s.speed] for s in route.speeds if s.direction == d.key]
            for d in route.directions
        },
        "listed": [_listed(place) for place in route.listed],
        "states": [
            {name: getattr(state, name) for name in _STATE_FIELDS} for state in route.states
        ],
        "trains": [_train(train) for train in trains],
        "trips": [_trip(route, trip, targets) for trip in route.trips],
        "geometry": [[point.lon, point.lat, point.at] for point in route.points],
        "settings": _settings(route),
        "assumptions": _assumptions(route),
        "words": {**FIXED_WORDS, **route.words.get("en", {})},
        **_signed_words(route),
        **proposals_block(route),
        # A surveyed line has no such list, so that its pack keeps the name it had.
        **({"inferred": inferred} if inferred else {}),
    } | _brief_lists(route, targets)
    names = names_in(content, route.names)
    return content | ({"names_in": names} if names else {})


def _signed_words(route: Route) -> Json:
    """Return what the company itself wrote, by language and code; nothing if nothing."""
    words = {language: dict(one) for language, one in route.words.items() if one}
    return {"signed_words": words} if words else {}


def _brief_lists(route: Route, targets: tuple[PackTarget, ...]) -> Json:
    """Return what the Brief says beside the figures; a route may have none of it."""
    marks = {landmark.key: landmark for landmark in route.landmarks}
    known = {target.key for target in targets}
    return {
        "signals": [
            {
                "key": row.signal,
                "direction": row.direction,
                "words": marks[row.signal].words,
                "at_m": marks[row.signal].at,
                "stop_before": marks[row.stop_before].words,
                "stop_before_m": marks[row.stop_before].at,
                "note": row.note or None,
            }
            for row in route.signals
        ],
        "brake_tests": [
            {
                "key": row.landmark,
                "direction": row.direction,
                "words": marks[row.landmark].words,
                "at_m": marks[row.landmark].at,
                "note": row.note or None,
            }
            for row in route.brake_tests
        ],
        "doors": [
            {"target": key, "cars": row.cars, "open_front": row.open_front}
            for row in route.doors
            if (key := f"{row.station}/{row.direction}") in known
        ],
    }


_STATE_FIELDS = ("key", "name", "plan", "slick", "basis", "pickable")


def _head(route: Route) -> Json:
    head = route.head
    names = ("key", "name", "speed_unit", "distance_unit", "dial", "mark_limit_m", "datum")
    return {name: getattr(head, name) for name in names} | {"mps_per_unit": head.mps}


def _target(
    route: Route, landmarks: tuple[Landmark, ...], target: PackTarget, reach: Reach
) -> Json:
    furthest = max(reach.reach_m)
    seen = seen_landmarks(route, landmarks, target, furthest)
    return {
        "key": target.key,
        "kind": target.kind,
        "place": target.place,
        "name": target.name,
        "direction": target.direction,
        "platform": target.platform,
        "mark_m": list(target.marks),
        "limit_m": list(target.limits),
        "limit_kind": target.limit_kind,
        "platform_from_m": target.platform_from,
        "platform_to_m": target.platform_to,
        "to_speed": target.to_speed,
        "approach_speed": list(reach.approach_speed),
        "reach_m": list(reach.reach_m),
        "landmarks": [index for index, _ in seen],
        "listed": [p.key for p in route.listed if _meets(route, p, target, furthest)],
        "words": target.words,
        "note": target.note,
    }


def _meets(route: Route, place: Listed, target: PackTarget, reach: float) -> bool:
    """Tell whether a listed place lies anywhere between the reach and the limit."""
    marks = [mark for mark in target.marks if mark is not None]
    limits = [limit for limit in target.limits if limit is not None]
    if route.direction(target.direction).sign > 0:
        low, high = min(marks) - reach, max(limits)
    else:
        low, high = min(limits), max(marks) + reach
    return place.direction == target.direction and place.start < high and place.end > low


def _landmark(landmark: Landmark) -> Json:
    return {
        "key": landmark.key,
        "name": landmark.name,
        "kind": landmark.kind,
        "at_m": landmark.at,
        "directions": list(landmark.directions),
        "words": landmark.words,
    }


def _listed(place: Listed) -> Json:
    season = {"from": place.season_from, "to": place.season_to} if place.season_from else None
    return {
        "key": place.key,
        "name": place.name,
        "from_m": place.start,
        "to_m": place.end,
        "directions": [place.direction],
        "state": place.state,
        "season": season,
        "reason": place.reason,
        "source": place.source,
    }


def _train(variant: TrainVariant) -> Json:
    steps = [step.name for step in variant.type.steps]
    return {
        "key": variant.key,
        "type": variant.type.key,
        "type_name": variant.type.name,
        "formation": variant.formation.key,
        "cars": variant.formation.cars,
        "length_m": variant.formation.length_m,
        "isolated_cars": variant.isolated,
        "name": variant.name,
        "steps": steps,
        "usual_step": steps.index(variant.type.usual_step),
        "slide_words": variant.type.slide_words,
        "older": variant.type.older,
    }


def _trip(route: Route, trip: Trip, targets: tuple[PackTarget, ...]) -> Json:
    """Return a trip; its first stand has no approach, so it stands beside the calls."""
    known = {target.key for target in targets}
    first, *rest = route.calls_of(trip.key)
    calls = [
        {
            "target": f"{call.station}/{trip.direction}",
            "arrive": call.arrive or None,
            "depart": call.depart or None,
            "note": call.note,
        }
        for call in rest
        if f"{call.station}/{trip.direction}" in known
    ]
    return {
        "key": trip.key,
        "name": trip.name,
        "direction": trip.direction,
        "train_type": trip.train_type,
        "formation": trip.formation,
        "starts": {"place": first.station, "depart": first.depart or None},
        "calls": calls,
    }


def _settings(route: Route) -> Json:
    settings = route.settings
    names = (
        *("rail_state_hours", "walking_speed_mps", "short_stop_m", "isolated_limit_share"),
        *("reduction_card_seconds", "trip_allowance_words", "mark_here"),
        "cover_figure_m",
    )
    glance = {
        "on": settings.moving_glance,
        "approver": settings.moving_glance_approver or None,
    }
    return {"moving_glance": glance} | {name: getattr(settings, name) for name in names}


def _assumptions(route: Route) -> list[Json]:
    """Return every number of the pack that has no source, with what it rests on."""
    stated = [{"what": a.what, "value": a.value, "basis": a.basis} for a in route.assumptions]
    stated += _of_level(route)
    states = [
        {
            "what": f"Rail state {state.name}: plan and slick adhesion, cover to aim for",
            "value": f"{state.plan:g}, {state.slick:g}, {state.cover_aim_m:g} m",
            "basis": state.basis,
        }
        for state in route.states
        if state.basis.startswith("assumption:")
    ]
    trains = [entry for train in route.types for entry in _train_assumptions(train)]
    return [*stated, *states, *trains]


def _of_level(route: Route) -> list[Json]:
    """Return the figures of the level of room that the route names."""
    told = route.physics
    if not told.room:
        return []
    names = {state.key: state.name for state in route.states}
    quiet_from = names.get(told.quiet_one_worse_from, "")
    return [
        {"what": what, "value": value, "basis": basis}
        for what, value, basis in levels.stated(told.room, quiet_from)
    ]


def _train_assumptions(train: TrainType) -> list[Json]:
    shown = {
        "rates": "; ".join(
            f"{step.name} " + ", ".join(f"{rate:g} %g from {v:g}" for v, rate in step.rates)
            for step in train.steps
        ),
        "wheelset_share": ", ".join(f"{s.name} {s.wheelset_share:g}" for s in train.steps),
    }
    for name in ("length_m", "mass_t", "resistance"):
        values = (getattr(formation, name) for formation in train.formations)
        shown[name] = "; ".join(str(value) for value in values)
    return [
        {
            "what": f"{train.name}: {name}",
            "value": shown.get(name) or f"{getattr(train, name):g}",
            "basis": basis,
        }
        for name, basis in sorted(train.basis.items())
        if basis.startswith("assumption:")
    ]
