"""Comparison of two packs: what asks less of a driver is on top, nothing else raises alarm."""

from __future__ import annotations

import copy
import json
import shutil
import sys
from collections.abc import Callable
from datetime import date
from pathlib import Path
from typing import Any

import pytest

from calc.model import TableInput
from calc.table import Table, build_table
from tests.support.demo_packs import demo_packs
from tests.webapp.packs.conftest import shortened
from tests.webapp.packs.faults import cell, text
from webapp.packs.build import compute_route, write_pack
from webapp.packs.compare import KINDS, SECOND, Comparison, Parts, compare
from webapp.packs.read import read_route
from webapp.packs.service import demo_routes

TODAY = date(2026, 11, 30)
Json = dict[str, Any]
Plant = Callable[[Json, Json], None]


@pytest.fixture(scope="module")
def packs(demo_data: Path) -> dict[str, Parts]:
    return {
        key: Parts(one["base"], one["table"]) for key, one in demo_packs(demo_data).items()
    }


def planted(pack: Parts, *plants: Plant) -> Comparison:
    base, table = copy.deepcopy(pack.base), copy.deepcopy(pack.table)
    for plant in plants:
        plant(base, table)
    return compare(pack, Parts(base, table), TODAY)


def figure(column: str, change: Callable[[Any], Any], stop: str = "harrowmere/down") -> Plant:
    """Change one column in every cell of a stop, out of season and in."""

    def plant(base: Json, table: Json) -> None:
        at = next(n for n, one in enumerate(base["targets"]) if one["key"] == stop)
        for season in table["columns"][column]:
            season[at] = [[_each(train, change) for train in state] for state in season[at]]

    return plant


def _each(value: Any, change: Callable[[Any], Any]) -> Any:
    return [change(one) for one in value] if isinstance(value, list) else change(value)


def put(path: str, value: Any) -> Plant:
    """Change one value of the base, by its path: ``settings.dial``, ``listed.0.state``."""

    def plant(base: Json, _table: Json) -> None:
        *way, last = (int(word) if word.isdigit() else word for word in path.split("."))
        row: Any = base
        for step in way:
            row = row[step]
        assert row[last] != value, "this plants nothing"
        row[last] = value

    return plant


def drop(part: str, n: int) -> Plant:
    return lambda base, _table: base[part].pop(n) and None


def moved(part: str, n: int, metres: float) -> Plant:
    def plant(base: Json, _table: Json) -> None:
        base[part][n]["at_m"] += metres

    return plant


def later(value: int | None) -> int | None:
    return None if value is None else max(0, value - 200)


def earlier(value: int | None) -> int | None:
    return None if value is None else value + 200


def less(value: int | None) -> int | None:
    return value if value is None or value <= 0 else value - 10


def swap_marks(base: Json, _table: Json) -> None:
    marks = next(one for one in base["targets"] if one["key"] == "harrowmere/down")["mark_m"]
    marks[0], marks[-1] = marks[-1], marks[0] + 40


def no_call(base: Json, _table: Json) -> None:
    base["trips"][0]["calls"].pop(3)


def shifted_calls(base: Json, _table: Json) -> None:
    calls = base["trips"][0]["calls"]
    for one, other in zip(calls, copy.deepcopy(calls[1:]), strict=False):
        one["target"] = other["target"]


def lost(base: Json, table: Json) -> None:
    figure("status", lambda _: 1)(base, table)
    figure("brake", lambda _: None)(base, table)


def limit_on(base: Json, _table: Json) -> None:
    target = next(one for one in base["targets"] if one["key"] == "harrowmere/down")
    target["limit_m"] = [metres and metres + 60 for metres in target["limit_m"]]


#: What is planted, and which reason for a second person names it.
ASKS_LESS: dict[str, tuple[Plant, str]] = {
    "brake points later": (figure("brake", later), "begins later"),
    "heavier first step": (figure("step", lambda step: step + 1), "heavier step"),
    "quicker run-in": (figure("run_in", lambda v: v + 10 if v else v), "higher speeds"),
    "less cover": (figure("cover", less), "less cover"),
    "limit further on": (limit_on, "limit further on"),
    "marks swapped": (swap_marks, "begins later"),
    "rail state hours": (put("settings.rail_state_hours", 9), "setting"),
    "moving glance off": (put("settings.moving_glance.on", False), "setting"),
    "isolated share": (put("settings.isolated_limit_share", 0.5), "setting"),
    "mark limit": (put("route.mark_limit_m", 9000), "line"),
    "listed place softened": (put("listed.0.state", "damp"), "listed place"),
    "listed place shorter": (put("listed.0.to_m", 61_800.0), "listed place"),
    "listed place gone": (drop("listed", 1), "listed place"),
    "listed season shorter": (
        put("listed.0.season", {"from": "10-20", "to": "11-20"}),
        "listed place",
    ),
    "signal gone": (drop("signals", 0), "signal"),
    "signal moved": (moved("signals", 1, 300.0), "signal"),
    "brake test gone": (drop("brake_tests", 0), "brake test"),
    "doors changed": (put("doors.0.open_front", 8), "short platform"),
    "short platform gone": (drop("doors", 0), "short platform"),
    "landmark moved": (moved("landmarks", 20, 400.0), "landmark"),
    "landmark renamed": (put("landmarks.20.words", "31 post"), "landmark"),
    "plan adhesion": (put("states.2.plan", 0.12), "rail state"),
    "patch adhesion": (put("states.2.slick", 0.05), "rail state"),
    "state pickable": (put("states.5.pickable", True), "rail state"),
    "step renamed": (put("trains.0.steps", ["notch a", "notch b", "notch c"]), "train"),
    "usual step": (put("trains.0.usual_step", 2), "train"),
    "slide words": (put("trains.0.slide_words", "Sliding: hold step 3."), "train"),
    "call gone": (no_call, "trip"),
    "calls shifted by a row": (shifted_calls, "trip"),
    "direction turned": (put("directions.0.name", "Up"), "direction"),
    "fixed words": (put("words.W1", "Go ahead."), "fixed words"),
}


@pytest.mark.parametrize("name", ASKS_LESS)
def test_what_asks_less_of_a_driver_needs_a_second_person(
    packs: dict[str, Parts], name: str
) -> None:
    plant, reason = ASKS_LESS[name]
    found = planted(packs["kettle-bay"], plant)
    assert reason in found.second


#: Changes that one person may publish, also at night.
ASKS_MORE: dict[str, Plant] = {
    "brake points earlier": figure("brake", earlier),
    "lighter step": figure("step", lambda step: max(0, step - 1)),
    "advice taken away": lost,
    "listed place harder": put("listed.2.state", "leaf"),
    "listed place longer": put("listed.0.to_m", 90_000.0),
    "times of a trip": put("trips.0.calls.2.arrive", "05:23"),
}


@pytest.mark.parametrize("name", ASKS_MORE)
def test_what_is_only_earlier_lighter_or_gone_takes_one(
    packs: dict[str, Parts], name: str
) -> None:
    found = planted(packs["kettle-bay"], ASKS_MORE[name])
    assert not found.second
    assert not found.nothing


@pytest.mark.parametrize("route", ["kettle-bay", "orrin"])
def test_an_unchanged_pack_raises_no_alarm(packs: dict[str, Parts], route: str) -> None:
    found = planted(packs[route])
    assert found.nothing and not found.second
    assert found.changed == 0 and found.cards > 1000


def test_a_stop_that_lost_its_advice_is_on_top_with_its_cards(
    packs: dict[str, Parts],
) -> None:
    [one] = planted(packs["kettle-bay"], lost).sections["lost"]
    assert one.key == "harrowmere/down" and one.name.startswith("Harrowmere")
    assert all(card.old and card.new is None for card in one.cards)


def test_advice_where_there_was_none_needs_a_second_person(packs: dict[str, Parts]) -> None:
    whole = packs["kettle-bay"]
    base, table = copy.deepcopy(whole.base), copy.deepcopy(whole.table)
    lost(base, table)
    found = compare(Parts(base, table), whole, TODAY)
    assert KINDS["gained"].lower() in found.second


def test_a_vanished_stop_is_lost_and_a_new_one_gained(packs: dict[str, Parts]) -> None:
    whole = packs["kettle-bay"]
    base, table = copy.deepcopy(whole.base), copy.deepcopy(whole.table)
    gone = base["targets"].pop()["key"]
    for column in table["columns"].values():
        for season in column:
            season.pop()
    assert {one.key for one in compare(whole, Parts(base, table), TODAY).sections["lost"]} == {
        gone
    }
    back = compare(Parts(base, table), whole, TODAY)
    assert {one.key for one in back.sections["gained"]} == {gone}


def test_one_step_of_rounding_is_no_later_mark_unless_the_landmark_is(
    packs: dict[str, Parts],
) -> None:
    def slightly(value: int | None) -> int | None:
        return None if value is None else max(0, value - 5)

    found = planted(packs["kettle-bay"], figure("brake", slightly))
    for one in found.sections.get("later", ()):
        for card in one.cards:
            assert card.old and card.new
            assert card.old.before != card.new.before


def test_stops_are_worst_first_and_no_changed_card_is_left_out(
    packs: dict[str, Parts],
) -> None:
    found = planted(
        packs["kettle-bay"], figure("brake", later), figure("step", lambda s: s + 1)
    )
    shown = {(c.stop, c.case) for one in found.stops for c in one.cards}
    assert len(shown) == found.changed
    order = list(KINDS)
    kinds = [order.index(one.kind) for one in found.stops]
    assert kinds == sorted(kinds)
    for one in found.stops:
        sizes = [card.kinds[one.kind] for card in one.cards]
        assert sizes == sorted(sizes, reverse=True)


def test_season_dates_that_switch_by_themselves_are_named(packs: dict[str, Parts]) -> None:
    days = {(one.day, one.begins) for one in planted(packs["kettle-bay"]).switches}
    assert ("2026-12-14", False) in days, "listed for leaf fall up to 13 December"


def test_the_first_pack_of_a_line_needs_a_second_person(packs: dict[str, Parts]) -> None:
    found = compare(None, packs["orrin"], TODAY)
    assert found.second == ["first pack of this line"]
    assert {one.kind for one in found.stops} == {"gained"}


# The same with the real calculation, on one stop of the mile line.


def _here(given: TableInput, tell: Callable[[int, int], None] | None) -> Table:
    return build_table(given, tell)


def _one_stop(folder: Path) -> Parts:
    route = shortened(read_route(folder), {"thrasseby"})
    pack = write_pack(compute_route(route, None, _here))
    return Parts(*(json.loads(pack.file(name).content) for name in ("base", "table")))


@pytest.fixture(scope="module")
def before() -> Parts:
    return _one_stop(demo_routes()["kettle-bay"])


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    return Path(shutil.copytree(demo_routes()["kettle-bay"], tmp_path / "kettle-bay"))


def test_one_turned_sign_of_a_gradient_is_on_top(before: Parts, folder: Path) -> None:
    rows = (folder / "gradients.csv").read_text().splitlines()
    steep = next(n for n, row in enumerate(rows, 1) if row.endswith("1 in 75 down"))
    cell("gradients.csv", steep, "gradient", "1 in 75 up")(folder)
    found = compare(before, _one_stop(folder), TODAY)
    assert "begins later" in found.second
    assert found.sections["later"][0].size > 300
    assert any(one.what == "gradient" and "1 in 75 falling" in one.words for one in found.line)


def test_a_brake_rate_that_is_too_good_is_on_top(before: Parts, folder: Path) -> None:
    text("trains.toml", "rates = [[0, 3.0]]", "rates = [[0, 4.0]]")(folder)
    found = compare(before, _one_stop(folder), TODAY)
    assert set(found.sections) & set(SECOND)


def test_a_release_of_the_calculation_is_compared_like_a_row(
    before: Parts, monkeypatch: pytest.MonkeyPatch
) -> None:
    for name, module in list(sys.modules.items()):
        if name.startswith("calc.") and hasattr(module, "GRAVITY"):
            monkeypatch.setattr(module, "GRAVITY", 9.0)
    found = compare(before, _one_stop(demo_routes()["kettle-bay"]), TODAY)
    assert set(found.sections) & set(SECOND)
    assert not found.line
