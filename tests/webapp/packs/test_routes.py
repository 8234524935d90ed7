"""What the two demo lines must have: they are read, not computed, here."""

from __future__ import annotations

import tomllib
from dataclasses import replace
from itertools import pairwise

import pytest
from geographiclib.geodesic import Geodesic

from calc.model import Settings
from webapp.packs.axes import target_axis, train_axis
from webapp.packs.landmarks import post_words
from webapp.packs.model import Route
from webapp.packs.service import demo_routes
from webapp.packs.toml_schemas import PhysicsTable
from webapp.packs.turned import table_input

ROOM = ("brake_share", "strongest_share", "late_s", "slow_s", "slide_eta")


@pytest.fixture(params=["kettle_bay", "orrin"])
def route(request: pytest.FixtureRequest) -> Route:
    return request.getfixturevalue(request.param)


def test_line_one_is_long_with_buffers_a_fall_a_cutting_and_a_tunnel(
    kettle_bay: Route,
) -> None:
    assert len(kettle_bay.stations) >= 16
    assert kettle_bay.head.line_to - kettle_bay.head.line_from >= 70_000
    assert {s.station for s in kettle_bay.stops if s.kind == "buffers"} == {
        "kettle-bay",
        "great-tarrow",
    }
    fall = next(g for g in kettle_bay.gradients if abs(g.ratio + 1 / 75) < 1e-9)
    assert fall.end - fall.start == pytest.approx(2 * 1609.344, abs=0.1)
    assert {"cutting", "tunnel", "crossing", "bridge", "signal", "board"} <= {
        landmark.kind for landmark in kettle_bay.landmarks
    }


def test_line_two_is_suburban(orrin: Route) -> None:
    at = [station.at for station in orrin.stations]
    assert len(at) == 20
    assert all(1000 <= b - a <= 2500 for a, b in pairwise(at))
    assert {speed.speed for speed in orrin.speeds} >= {80, 100, 120}


def test_at_least_three_train_types_one_in_two_formations_one_tread_braked(
    kettle_bay: Route, orrin: Route
) -> None:
    types = [*kettle_bay.types, *orrin.types]
    assert len({train.key for train in types}) >= 3
    disc = kettle_bay.types[0]
    assert [formation.cars for formation in disc.formations] == [4, 8]
    assert [step.rates[0][1] for step in disc.steps] == [3.0, 6.0, 9.0]
    assert any(train.older for train in types)
    assert any(step.wheelset_share < 1 for train in types for step in train.steps)


def test_the_train_axis_ends_at_the_companys_limit(route: Route) -> None:
    axis = train_axis(route)
    assert len(axis) <= 7
    assert len({train.key for train in axis}) == len(axis)
    limit = route.settings.isolated_limit_share
    assert all(train.isolated / train.formation.cars <= limit for train in axis)


def test_the_map_agrees_with_the_posts_within_one_per_cent(route: Route) -> None:
    points = route.points
    on_map = sum(
        Geodesic.WGS84.Inverse(a.lat, a.lon, b.lat, b.lon)["s12"] for a, b in pairwise(points)
    )
    assert on_map == pytest.approx(points[-1].at - points[0].at, rel=0.01)


def test_trips_run_all_day_in_both_directions(route: Route) -> None:
    for direction in route.directions:
        trips = [trip for trip in route.trips if trip.direction == direction.key]
        first = [route.calls_of(trip.key)[0].depart for trip in trips]
        assert min(first) < "06:00" and max(first) > "21:00"


def test_every_state_lies_below_the_one_before(route: Route) -> None:
    plans = [state.plan for state in route.states]
    assert plans == sorted(set(plans), reverse=True)
    aims = {state.key: state.cover_aim_m for state in route.states}
    assert aims == {
        "dry": 0,
        "wet": 200,
        "damp": 200,
        "frost": 200,
        "leaf": 400,
        "very-low": 400,
    }


@pytest.mark.parametrize(
    ("at", "words"),
    [(402.336, "¼ post"), (50292.0, "31¼ post"), (51499.008, "32 post"), (0.0, "0 post")],
)
def test_posts_are_called_as_the_driver_calls_them(at: float, words: str) -> None:
    assert post_words(at, "mi-ch") == words


def test_kilometre_posts() -> None:
    assert post_words(12_400.0, "km") == "12.4 post"


def test_the_other_direction_is_the_line_turned_round(kettle_bay: Route) -> None:
    trains = train_axis(kettle_bay)
    targets = target_axis(kettle_bay, trains)
    down, up = (
        table_input(kettle_bay, d, trains, tuple(t for t in targets if t.direction == d.key))
        for d in kettle_bay.directions
    )
    ends = [*down.line.gradient_from[1:], down.line.end]
    turned = [round(down.line.end - end, 6) for end in ends][::-1]
    assert [round(z, 6) for z in up.line.gradient_from] == turned
    assert list(up.line.gradient) == [-ratio for ratio in down.line.gradient][::-1]
    for given in (down, up):
        marks = [target.mark[0] for target in given.targets]
        assert marks == sorted(marks)
        for target in given.targets:
            assert all(a <= b for a, b in zip(target.mark, target.limit, strict=True))
            assert target.start < min(target.mark)


def test_a_train_that_runs_through_counts_for_the_next_stop(kettle_bay: Route) -> None:
    """Fast trips skip Wrayling, so an approach to Dunspool may begin at Corvane."""
    axis = {t.key: t for t in target_axis(kettle_bay, train_axis(kettle_bay))}
    corvane = min(
        m.at for m in kettle_bay.marks if (m.station, m.direction) == ("corvane", "down")
    )
    assert axis["dunspool/down"].start == corvane
    assert axis["corvane/down"].start > axis["pellow-cross/down"].marks[0] - 400


def test_a_lower_speed_is_a_target_only_where_a_train_can_be_too_fast(orrin: Route) -> None:
    kinds = {t.key for t in target_axis(orrin, train_axis(orrin)) if t.kind == "reduction"}
    assert any(key.startswith("speed-40") for key in kinds)
    assert not any(key.startswith("speed-80-at-31-250") for key in kinds)


def settings_of(route: Route, **physics: float | str) -> Settings:
    changed = replace(route, physics=replace(route.physics, **physics))
    trains = train_axis(changed)
    return table_input(changed, changed.directions[0], trains, ()).settings


def test_both_lines_keep_a_state_in_hand_from_damp_on(route: Route) -> None:
    keys = [state.key for state in route.states]
    assert settings_of(route).quiet_from == keys.index("damp")
    assert settings_of(route, quiet_one_worse_from="").quiet_from == -1


def test_plans_are_worked_with_the_quoted_figures_where_a_route_says_nothing(
    route: Route,
) -> None:
    physics = tomllib.loads((demo_routes()[route.head.key] / "route.toml").read_text())
    silent = {name: v for name, v in physics["physics"].items() if name not in ROOM}
    said = PhysicsTable().load(silent)
    assert {name: said[name] for name in ROOM} == dict(zip(ROOM, (1, 1, 0, 0, 0), strict=True))
    told = settings_of(route, **{name: said[name] for name in ROOM})
    assert (told.brake_share, told.strongest_share, told.late, told.slow) == (1, 1, 0, 0)
    assert told.slide_eta in (0, told.eta)


def test_both_lines_leave_room_for_a_weak_brake_and_a_late_hand(route: Route) -> None:
    told = settings_of(route)
    assert (told.brake_share, told.strongest_share, told.late, told.slow) == (0.9, 1, 2, 0.8)
    assert told.slide_eta == 0.75


def test_what_a_route_says_of_a_tired_brake_reaches_the_calculation(route: Route) -> None:
    room = dict(zip(ROOM, (0.9, 1.1, 2.0, 0.8, 0.75), strict=True))
    told = settings_of(route, **room)
    assert (told.brake_share, told.strongest_share, told.late, told.slow) == (0.9, 1.1, 2, 0.8)
    assert told.slide_eta == 0.75
    assert settings_of(route, slide_eta=0.99).slide_eta == route.physics.eta
