"""A line's words in another language: names.csv, from the row to the tablet's base file."""

from __future__ import annotations

import copy
import csv
import shutil
from pathlib import Path
from typing import Any

import pytest

from webapp.packs.axes import target_axis, train_axis
from webapp.packs.base_file import Reach, base_file
from webapp.packs.compare_line import line_changes
from webapp.packs.doubts import doubts
from webapp.packs.faults import RouteFaults
from webapp.packs.model import Name, Route
from webapp.packs.names import names_in, texts
from webapp.packs.read import read_route
from webapp.packs.service import demo_routes


def base_of(route: Route) -> dict[str, Any]:
    """Return a base file; the figures that need computing are made up."""
    trains = train_axis(route)
    targets = target_axis(route, trains)
    near = Reach((20,) * len(trains), (1000,) * len(trains))
    return base_file(route, trains, targets, (near,) * len(targets))


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    return Path(shutil.copytree(demo_routes()["orrin"], tmp_path / "orrin"))


def write(folder: Path, *rows: tuple[str, str, str]) -> None:
    with (folder / "names.csv").open("w", encoding="utf-8", newline="") as file:
        csv.writer(file).writerows([("language", "words", "say"), *rows])


@pytest.mark.parametrize("line", ["kettle-bay", "orrin"])
def test_on_both_demo_lines_only_names_of_places_stay_as_they_are(line: str) -> None:
    base = base_of(read_route(demo_routes()[line]))
    said = base["names_in"]["de"]
    places = {one["name"] for one in base["places"]}
    left = {text for text in texts(base) if text not in said} - places
    assert left <= {base["route"]["name"], "Mill Crossing", "B1", "B2", "B3"}
    assert said["Damp"] == "feucht" and said["ramp"] == "Rampe"


def test_the_nearest_row_counts_and_what_the_star_stood_for_is_kept() -> None:
    base = {"landmarks": [{"words": "0.2 post"}, {"words": "12 post"}, {"words": "post"}]}
    base["landmarks"].append({"words": "13 post"})
    rows = [("*.* post", "km *,*"), ("* post", "km *"), ("13 post", "Grenzstein")]
    names = tuple(Name("de", words, say, 2) for words, say in rows)
    assert names_in(base, names) == {
        "de": {"0.2 post": "km 0,2", "12 post": "km 12", "13 post": "Grenzstein"}
    }


def test_letters_that_mean_something_in_a_pattern_stand_for_themselves() -> None:
    base = {"landmarks": [{"words": "post (old)"}, {"words": "postXoldX"}]}
    assert names_in(base, (Name("de", "* (old)", "* (alt)", 2),)) == {
        "de": {"post (old)": "post (alt)"}
    }


@pytest.mark.parametrize(
    ("row", "column", "says"),
    [
        (("fr", "Damp", "humide"), "language", "'fr' is not known here"),
        (("de", "Damp", ""), "say", "the cell is empty"),
        (("de", "* post", "Posten"), "say", "has * more or less often"),
        (
            (
                "de",
                "Allow {minutes} min more for this trip. Minutes lost to this approach are"
                " the company's.",
                "Mehr Zeit einplanen.",
            ),
            "say",
            "has {minutes} more or less often",
        ),
        (
            (
                "de",
                "Sliding: hold B2. Not slowing as it should: EMERGENCY, hold to a stand.",
                "Gleiten: B2 halten, dann stärker bremsen.",
            ),
            "say",
            "W4 does not name 'SCHNELLBREMSUNG'",
        ),
    ],
)
def test_a_row_that_says_less_is_refused(
    folder: Path, row: tuple[str, str, str], column: str, says: str
) -> None:
    write(folder, row)
    with pytest.raises(RouteFaults) as found:
        read_route(folder)
    [fault] = found.value.faults
    assert (fault.file, fault.row, fault.column) == ("names.csv", 2, column)
    assert says in str(fault) and fault.cure


def test_the_same_words_twice_are_refused(folder: Path) -> None:
    write(folder, ("de", "Damp", "feucht"), ("de", "Damp", "klamm"))
    with pytest.raises(RouteFaults) as found:
        read_route(folder)
    assert {(fault.file, fault.row) for fault in found.value.faults} == {("names.csv", 3)}


def test_words_that_nothing_is_called_are_asked_about(folder: Path) -> None:
    idle = [("de", f"Damp{n}", "feucht") for n in range(7)]
    write(folder, ("de", "Damp", "feucht"), *idle)
    [doubt] = [one for one in doubts(read_route(folder)) if one.file == "names.csv"]
    assert doubt.row == 3 and "'Damp0' (row 3)" in doubt.message and "2 more" in doubt.message


def test_a_line_without_the_file_has_a_pack_without_the_names(folder: Path) -> None:
    (folder / "names.csv").unlink()
    assert "names_in" not in base_of(read_route(folder))


def test_the_comparison_of_packs_tells_new_names_once_and_each_changed_one() -> None:
    new = base_of(read_route(demo_routes()["orrin"]))
    old = {name: value for name, value in new.items() if name != "names_in"}
    [change] = line_changes(old, new)
    assert change.what == "names" and str(len(new["names_in"]["de"])) in change.words
    other = copy.deepcopy(new)
    other["names_in"]["de"]["Damp"] = "klamm"
    [change] = line_changes(new, other)
    assert change.second and change.name == "Damp" and "klamm" in change.words
