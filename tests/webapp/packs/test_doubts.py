"""What passes every check but is odd is asked about until somebody confirms it."""

from __future__ import annotations

import csv
import json
import shutil
from dataclasses import replace
from datetime import date
from pathlib import Path
from typing import Any

import pytest
from click.testing import CliRunner

from tests.webapp.packs.faults import cell, text
from tests.webapp.packs.oddities import FOUR, ODD, Odd, inferred, row, without
from webapp.commands import packs
from webapp.packs.axes import target_axis, train_axis
from webapp.packs.base_file import Reach, base_file
from webapp.packs.build import build_route
from webapp.packs.doubt_line import doubt_line
from webapp.packs.doubt_list import DoubtList
from webapp.packs.doubts import Doubt, doubts
from webapp.packs.faults import RouteFaults
from webapp.packs.inferred import inferred_entries
from webapp.packs.read import read_route
from webapp.packs.service import NoSuchDoubt, confirm_doubts, demo_routes

TODAY = date(2026, 10, 1)


def copied(route: str, to: Path) -> Path:
    return Path(shutil.copytree(demo_routes()[route], to / route))


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    return copied("kettle-bay", tmp_path)


def open_doubts(folder: Path, former: dict[str, Any] | None = None) -> list[Doubt]:
    return [one for one in doubts(read_route(folder), former) if one.open]


def run(*words: str):
    return CliRunner().invoke(packs.pack_commands, list(words))


@pytest.mark.parametrize("name", sorted(demo_routes()))
def test_an_unchanged_demo_route_has_no_open_doubt(name: str) -> None:
    found = doubts(read_route(demo_routes()[name]))
    assert [str(one) for one in found if one.open] == []
    assert all(one.confirmed_by == "Route author" and one.reason for one in found)


@pytest.mark.parametrize("odd", ODD, ids=lambda odd: odd.name)
def test_each_planted_change_is_doubted_or_refused(tmp_path: Path, odd: Odd) -> None:
    folder = copied(odd.route, tmp_path)
    odd.plant(folder)
    try:
        asked = open_doubts(folder)
    except RouteFaults as refused:
        assert odd.fault, str(refused)
        found = [(fault.file, fault.problem) for fault in refused.faults]
    else:
        found = [(one.file, one.message) for one in asked]
        assert not odd.fault and len(asked) <= odd.most, "\n".join(map(str, asked))
    assert any(file == odd.file and odd.words in said for file, said in found), found


def test_there_are_enough_planted_changes_and_the_four_are_among_them() -> None:
    assert len({odd.name for odd in ODD}) == len(ODD) >= 40
    assert set(map(id, FOUR)) <= set(map(id, ODD))


@pytest.mark.parametrize("name", sorted(demo_routes()))
def test_every_turned_gradient_is_found(name: str) -> None:
    route = read_route(demo_routes()[name])
    sloped = [n for n, gradient in enumerate(route.gradients) if gradient.ratio]
    assert len(sloped) > 20
    for n in sloped:
        here = route.gradients[n]
        turned = replace(here, ratio=-here.ratio)
        others = (*route.gradients[:n], turned, *route.gradients[n + 1 :])
        found = DoubtList()
        doubt_line(replace(route, gradients=others), found)
        assert here.row in {odd.row for odd in found if odd.file == "gradients.csv"}, here


def test_a_doubt_says_where_what_and_how_to_confirm(folder: Path) -> None:
    text("trains.toml", "mass_t = 160", "mass_t = 16")(folder)
    (doubt,) = open_doubts(folder)
    assert (doubt.file, doubt.row, doubt.column) == (
        "trains.toml",
        5,
        "type.formation.mass_t",
    )
    assert "Look at the mass of the whole train, in tonnes" in str(doubt)
    shown = run("check", str(folder))
    assert shown.exit_code == 0
    assert doubt.code in shown.output
    assert f"pack confirm {folder} DOUBT --who NAME --reason WORDS" in shown.output


def test_a_confirmed_doubt_is_kept_with_the_route(folder: Path) -> None:
    text("trains.toml", "mass_t = 160", "mass_t = 16")(folder)
    (doubt,) = open_doubts(folder)
    said = run("confirm", str(folder), doubt.code, "--who", "A. Weigher", "--reason", "a toy")
    assert said.exit_code == 0, said.output
    assert open_doubts(folder) == []
    (mine,) = [one for one in doubts(read_route(folder)) if one.code == doubt.code]
    assert (mine.confirmed_by, mine.reason) == ("A. Weigher", "a toy")
    with (folder / "confirmed.csv").open(encoding="utf-8") as file:
        last = list(csv.DictReader(file))[-1]
    assert (last["who"], last["code"]) == ("A. Weigher", doubt.code)
    # A copy of the folder, to another machine, takes it along.
    moved = Path(shutil.copytree(folder, folder.parent / "elsewhere"))
    assert open_doubts(moved) == []


def test_a_confirmed_doubt_is_asked_again_when_its_row_changes(folder: Path) -> None:
    turn = row("gradients.csv", "37m 44ch,", "gradient", "1 in 55 up")
    turn(folder)
    (doubt,) = open_doubts(folder)
    confirm_doubts(folder, [doubt.code], "A", "as surveyed", TODAY)
    assert open_doubts(folder) == []
    row("gradients.csv", "37m 44ch,", "gradient", "1 in 60 up")(folder)
    (again,) = open_doubts(folder)
    assert again.code != doubt.code
    assert "A confirmed it on 2026-10-01; it has changed since" in again.message


def test_a_confirmed_doubt_stays_confirmed_when_rows_move_or_are_written_otherwise(
    folder: Path,
) -> None:
    path = folder / "not_past.csv"
    head, *rows = path.read_text(encoding="utf-8").splitlines()
    turned = "\n".join([head, *rows[::-1]])
    path.write_text(turned.replace("10m 65ch", "10m 65.0ch") + "\n", encoding="utf-8")
    assert open_doubts(folder) == []


def test_nothing_is_written_for_a_code_that_no_open_doubt_has(folder: Path) -> None:
    before = (folder / "confirmed.csv").read_bytes()
    with pytest.raises(NoSuchDoubt, match="sign-00000000"):
        confirm_doubts(folder, ["sign-00000000"], "A", "b", TODAY)
    refused = run("confirm", str(folder), "sign-00000000", "--who", "A", "--reason", "b")
    assert refused.exit_code == 2 and "pack check" in refused.output
    assert (folder / "confirmed.csv").read_bytes() == before


@pytest.mark.parametrize("words", ["", "  ", "x" * 201, "a\x1b[2Jb"])
def test_a_confirmation_needs_a_name_and_a_reason_that_can_be_read(
    folder: Path, words: str
) -> None:
    text("trains.toml", "mass_t = 160", "mass_t = 16")(folder)
    (doubt,) = open_doubts(folder)
    for given in (["--who", words, "--reason", "b"], ["--who", "A", "--reason", words]):
        assert run("confirm", str(folder), doubt.code, *given).exit_code == 2
    assert [one.code for one in open_doubts(folder)] == [doubt.code]


def test_a_route_with_faults_confirms_nothing(folder: Path) -> None:
    cell("speeds.csv", 3, "speed", "-50")(folder)
    refused = run("confirm", str(folder), "sign-00000000", "--who", "A", "--reason", "b")
    assert refused.exit_code == 2 and "-50 is outside" in refused.output


def test_the_first_confirmation_makes_the_file(folder: Path) -> None:
    (folder / "confirmed.csv").unlink()
    found = open_doubts(folder)
    confirm_doubts(folder, [one.code for one in found], "A, of the line", 'said "yes"', TODAY)
    assert open_doubts(folder) == []


def test_json_has_faults_and_doubts(folder: Path) -> None:
    text("trains.toml", "mass_t = 160", "mass_t = 16")(folder)
    shown = json.loads(run("check", str(folder), "--json").output)
    assert shown["route"] == "kettle-bay" and shown["faults"] == []
    (mine,) = [one for one in shown["doubts"] if one["open"]]
    assert mine["file"] == "trains.toml" and mine["code"].startswith("weight-")
    cell("speeds.csv", 3, "speed", "-50")(folder)
    faulty = run("check", str(folder), "--json")
    assert faulty.exit_code == 2
    (fault,) = json.loads(faulty.output)["faults"]
    assert (fault["row"], fault["column"]) == (3, "speed") and fault["cure"]


def former_base(folder: Path) -> dict[str, Any]:
    """Return the parts of a base file that need no computing, as the depot keeps them."""
    route = read_route(folder)
    trains = train_axis(route)
    targets = target_axis(route, trains)
    near = Reach((20,) * len(trains), (1000,) * len(trains))
    base = base_file(route, trains, targets, (near,) * len(targets))
    return dict(json.loads(json.dumps(base)))


@pytest.mark.parametrize(
    ("plant", "words"),
    [
        (
            row("landmarks.csv", "heron-farm-bridge", "at", "13m 29.5ch"),
            "'heron-farm-bridge' was at",
        ),
        (
            without("landmarks.csv", "heron-farm-bridge"),
            "'Heron Farm bridge' at 13 mi 28.5 ch",
        ),
        (without("signals.csv", "signal-334"), "'signal 334' (down) is in the pack in use"),
        (
            row("gradients.csv", "39m 44ch", "gradient", "1 in 260 up"),
            "has 1 in 260 down here",
        ),
        (without("not_past.csv", "sarnhope,down,signal"), "signal then, platform end now"),
        (row("marks.csv", "lintock,down,4", "at", "41m 72.5ch"), "is 5 m further"),
    ],
)
def test_what_moved_against_the_pack_in_use_is_doubted(
    folder: Path, plant: Any, words: str
) -> None:
    former = former_base(folder)
    assert open_doubts(folder, former) == []
    plant(folder)
    assert any(words in one.message for one in open_doubts(folder, former))


def test_a_change_confirmed_against_the_pack_in_use_is_not_asked_about_later(
    folder: Path,
) -> None:
    former = former_base(folder)
    row("landmarks.csv", "heron-farm-bridge", "at", "13m 29.5ch")(folder)
    (moved,) = open_doubts(folder, former)
    confirm_doubts(folder, [moved.code], "A", "measured again", TODAY, former)
    assert open_doubts(folder, former) == []
    assert open_doubts(folder) == [] and open_doubts(folder, former_base(folder)) == []


def test_inferred_values_are_in_the_pack_and_touching_ones_are_one(folder: Path) -> None:
    assert inferred_entries(read_route(folder)) == []
    assert "inferred" not in former_base(folder)
    inferred("gradients.csv", "marks.csv")(folder)
    entries = former_base(folder)["inferred"]
    line = read_route(folder).head
    gradients = [one for one in entries if one["what"] == "gradient"]
    assert gradients == [
        {
            "what": "gradient",
            "direction": None,
            "from_m": line.line_from,
            "to_m": line.line_to,
            "how": "guessed from the map",
        }
    ]
    marks = [one for one in entries if one["what"] == "mark"]
    assert {one["direction"] for one in marks} == {"down", "up"}
    assert all(one["from_m"] <= one["to_m"] for one in marks)


def test_build_prints_open_doubts(
    folder: Path, short: Any, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(packs, "build_pack", lambda *_: build_route(short))
    text("trains.toml", "mass_t = 160", "mass_t = 16")(folder)
    built = run("build", str(folder))
    assert built.exit_code == 0
    assert "16 t on 4 cars" in built.output and "1 open doubt." in built.output
