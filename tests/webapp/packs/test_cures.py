"""What the check says to do: one message a cause, keys named, and no advice made later."""

from __future__ import annotations

import re
import shutil
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from calc.table import build_table
from tests.webapp.packs.faults import cell, makes_later, remove, text
from tests.webapp.packs.oddities import ODD, in_turn, row
from webapp.packs.axes import target_axis, train_axis
from webapp.packs.faults import Fault
from webapp.packs.model import Route
from webapp.packs.read import read_route
from webapp.packs.service import check_folder, demo_routes
from webapp.packs.turned import table_input


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    return Path(shutil.copytree(demo_routes()["kettle-bay"], tmp_path / "route"))


@pytest.fixture
def orrin_folder(tmp_path: Path) -> Path:
    return Path(shutil.copytree(demo_routes()["orrin"], tmp_path / "orrin"))


def only(folder: Path) -> Fault:
    (fault,) = check_folder(folder)
    return fault


def test_the_words_of_a_cure_that_makes_advice_later_are_known() -> None:
    """What test_faults asks of each fault; the first is the cure that did it."""
    for cure in (
        "round it down to 80",
        "move the mark or the platform",
        "give a place from a",
    ):
        assert makes_later(Fault("speeds.csv", 4, "speed", "85 is not a multiple of 10", cure))
    assert not makes_later(Fault("speeds.csv", 4, "speed", "", "do not round it"))


def brakes(route: Route) -> Any:
    """Return the brake points of one stop by rail state and speed, 0 where there is none."""
    trains = tuple(train for train in train_axis(route) if train.key == "electric-3")
    stops = [one for one in target_axis(route, trains) if one.key == "fennick-park/outbound"]
    given = table_input(route, route.direction("outbound"), trains, tuple(stops))
    states = tuple(state for state in given.states if state.key in ("dry", "leaf"))
    line = replace(given.line, listed=())
    few = replace(given, states=states, line=line, speeds=given.speeds[59:90:10])
    return np.nan_to_num(build_table(few).brake)


def test_the_cure_of_a_speed_off_the_dial_keeps_the_speed(orrin_folder: Path) -> None:
    before = read_route(orrin_folder)
    row("speeds.csv", "outbound,0.500", "speed", "85")(orrin_folder)
    fault = only(orrin_folder)
    assert fault.problem == "85 is not a multiple of 10"
    assert fault.cure.startswith("set dial = 5 in route.toml")
    text("route.toml", "dial = 10", "dial = 5")(orrin_folder)
    route = read_route(orrin_folder)
    assert (route.head.dial, route.speeds[1].speed) == (5, 85)
    # Followed, it lets no train brake later than the line with the speed rounded down.
    cured, rounded = brakes(route), brakes(before)
    assert cured.max() > 500 and (cured >= rounded).all()


def test_a_speed_no_dial_has_is_never_rounded(folder: Path) -> None:
    cell("speeds.csv", 4, "speed", "68")(folder)
    assert "do not round it" in only(folder).cure


def test_eighty_chains_are_written_as_the_same_place(folder: Path) -> None:
    cell("stations.csv", 4, "at", "12m 90ch")(folder)
    (fault,) = [one for one in check_folder(folder) if one.file == "stations.csv"]
    place = re.search(r"write (.*)$", fault.cure)
    assert place is not None
    cell("stations.csv", 4, "at", place[1])(folder)
    assert read_route(folder).station("tunmarsh").at == pytest.approx(
        90 * 20.1168 + 12 * 1609.344
    )


def test_two_limits_of_one_kind_keep_the_nearer_one(folder: Path) -> None:
    path = folder / "not_past.csv"
    with path.open("a", encoding="utf-8") as file:
        file.write("harrowmere,down,platform end,32m 15ch\n")
    assert "keep the one that a train meets first" in only(folder).cure


def test_a_rear_off_the_platform_does_not_move_the_mark_on(folder: Path) -> None:
    cell("stops.csv", 2, "from", "10m 56.5ch")(folder)
    assert "measure mark and platform again" in only(folder).cure


def test_a_gradient_too_steep_is_not_written_level(folder: Path) -> None:
    cell("gradients.csv", 5, "gradient", "1 in 12 down")(folder)
    (fault,) = [one for one in check_folder(folder) if one.column == "gradient"]
    assert "level" not in fault.cure and "read it again" in fault.cure


@pytest.mark.parametrize(
    ("mark", "words"), [(";", "semicolons"), ("\t", "tabs"), ("|", "upright strokes")]
)
def test_another_separator_is_one_fault(folder: Path, mark: str, words: str) -> None:
    path = folder / "stations.csv"
    path.write_text(path.read_text(encoding="utf-8").replace(",", mark), encoding="utf-8")
    mine = [one for one in check_folder(folder) if one.file == "stations.csv"]
    assert [one.problem for one in mine] == [f"the cells are separated by {words}"]
    assert len(check_folder(folder)) == 1


def test_a_renamed_column_is_one_fault(folder: Path) -> None:
    text("marks.csv", "station,direction,cars,at", "station,direction,coaches,at")(folder)
    fault = only(folder)
    assert fault.problem == "the column 'cars' is missing; 'coaches' is not known"


def test_columns_in_another_order_are_read(folder: Path) -> None:
    path = folder / "stations.csv"
    lines = [line.split(",") for line in path.read_text(encoding="utf-8").splitlines()]
    turned = "\n".join(",".join([b, a, c, d]) for a, b, c, d in lines) + "\n"
    path.write_text(turned, encoding="utf-8")
    assert check_folder(folder) == []


@pytest.mark.parametrize(
    ("file", "line", "column", "typed", "key", "source"),
    [
        ("stops.csv", 9, "station", "Harrowmere", "harrowmere", "stations.csv"),
        ("calls.csv", 5, "station", "Ostleford", "ostleford", "stations.csv"),
        ("listed.csv", 2, "state", "Leaf film", "leaf", "rail_states.toml"),
        ("trips.csv", 2, "type", "Disc-braked unit", "disc", "trains.toml"),
        ("signals.csv", 2, "stop_before", "Harrowmere board", "harrowmere-board-down", ""),
        ("trips.csv", 3, "direction", "Down, away from Kettle Bay", "down", "route.toml"),
    ],
)
def test_a_name_where_a_key_is_meant_names_the_key(
    folder: Path, file: str, line: int, column: str, typed: str, key: str, source: str
) -> None:
    cell(file, line, column, typed)(folder)
    (fault,) = [one for one in check_folder(folder) if one.row == line and one.file == file]
    if source:
        assert fault.problem == f"'{typed}' is a name, not a key"
        assert fault.cure == f"write its key, '{key}', as in {source}"
    else:  # Both boards of the station have these words.
        assert "is not a key" in fault.problem


def test_a_key_with_a_capital_letter_is_one_fault(folder: Path) -> None:
    cell("stations.csv", 4, "key", "Tunmarsh")(folder)
    fault = only(folder)
    assert fault.cure.endswith("'tunmarsh'")


def test_a_key_nearly_right_is_suggested(folder: Path) -> None:
    cell("listed.csv", 2, "state", "leave")(folder)
    assert "('leaf'?)" in only(folder).cure


def test_changes_that_pass_as_right_rows_are_no_faults() -> None:
    assert sum(not odd.fault for odd in ODD) >= 40


def test_a_route_without_heights_or_confirmations_is_right(folder: Path) -> None:
    in_turn(remove("heights.csv"), remove("confirmed.csv"))(folder)
    assert check_folder(folder) == []
