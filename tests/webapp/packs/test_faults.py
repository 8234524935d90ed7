"""A folder with planted faults gives clear errors and no pack (OPERATIONS, route author)."""

from __future__ import annotations

import random
import shutil
from pathlib import Path

import pytest

from tests.webapp.packs.faults import FAULTS, Planted, cell, makes_later
from webapp.packs.faults import RouteFaults
from webapp.packs.service import build_pack, check_folder, demo_routes


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    return Path(shutil.copytree(demo_routes()["kettle-bay"], tmp_path / "route"))


def test_the_demo_routes_have_no_faults() -> None:
    assert {name: check_folder(path) for name, path in demo_routes().items()} == {
        "kettle-bay": [],
        "orrin": [],
    }


@pytest.mark.parametrize("planted", FAULTS, ids=lambda planted: planted.name)
def test_each_fault_is_named_with_its_place_and_cure(folder: Path, planted: Planted) -> None:
    planted.plant(folder)
    faults = check_folder(folder)
    mine = [f for f in faults if (f.file, f.row, f.column) == _place(planted)]
    assert mine, "\n".join(map(str, faults))
    assert any(planted.words in str(fault) for fault in mine), "\n".join(map(str, mine))
    assert all("Cure: " in str(fault) and fault.cure for fault in faults)
    assert [str(fault) for fault in faults if makes_later(fault)] == []


def test_one_fault_does_not_bring_a_crowd_of_others(folder: Path) -> None:
    counts = {}
    for planted in FAULTS:
        fresh = Path(shutil.copytree(demo_routes()["kettle-bay"], folder / planted.name))
        planted.plant(fresh)
        counts[planted.name] = len(check_folder(fresh))
    crowds = {name: count for name, count in counts.items() if count > 4}
    # One row of these is used by many trips, each of which is told.
    assert set(crowds) <= {"no mark for a train that calls", "duplicate station"}, crowds


def test_twenty_faults_at_once_are_all_named_and_no_pack_is_built(folder: Path) -> None:
    together = [planted for planted in FAULTS if not planted.hides]
    assert len(together) >= 20
    for planted in together:
        planted.plant(folder)
    with pytest.raises(RouteFaults) as caught:
        build_pack(folder)
    found = {(fault.file, fault.row, fault.column) for fault in caught.value.faults}
    lost = {planted.name for planted in together if _place(planted) not in found}
    assert not lost
    assert len(caught.value.faults) >= len(together)


def test_an_empty_folder_names_every_missing_file(tmp_path: Path) -> None:
    faults = check_folder(tmp_path)
    assert {fault.problem for fault in faults} == {"the file is missing"}
    assert len(faults) == 14


def _place(planted: Planted) -> tuple[str, int, str]:
    return planted.file, planted.row, planted.column


JUNK = ("", "-1", "nan", "1e9", '"', "31m 99ch", "é", "level", "1 in 0 up", "\0", "[]", "a,b")


@pytest.mark.parametrize("seed", range(40))
def test_any_spoiled_file_is_read_or_refused_but_never_breaks(folder: Path, seed: int) -> None:
    rng = random.Random(seed)
    path = rng.choice(sorted(folder.iterdir()))
    before = path.read_text(encoding="utf-8")
    start = rng.randrange(len(before))
    end = start + rng.choice([0, 1, 5, 80])
    path.write_text(before[:start] + rng.choice(JUNK) + before[end:], encoding="utf-8")
    for fault in check_folder(folder):
        assert fault.file and fault.problem and fault.cure


def test_a_quotation_mark_never_closed_is_named_with_its_file(folder: Path) -> None:
    path = folder / "calls.csv"
    rows = path.read_text(encoding="utf-8").count("\n")
    with path.open("a", encoding="utf-8") as file:
        file.write('"' + "x" * 200_000)
    (fault,) = [fault for fault in check_folder(folder) if fault.file == "calls.csv"]
    assert (fault.row, "never closed" in fault.cure) == (rows + 1, True)


def test_a_number_of_thousands_of_digits_is_out_of_range(folder: Path) -> None:
    cell("speeds.csv", 2, "speed", "9" * 5000)(folder)
    (fault,) = [fault for fault in check_folder(folder) if fault.file == "speeds.csv"]
    assert (fault.row, fault.column) == (2, "speed")
    assert "outside what is possible" in fault.problem and len(str(fault)) < 300


@pytest.mark.parametrize("name", ["\u202eevael", "\u200b", "a\nb", "a\tb\x1b", "x" * 5000])
def test_a_name_that_no_card_can_show_is_refused(folder: Path, name: str) -> None:
    cell("stations.csv", 2, "name", f"Brine{name}")(folder)
    (fault,) = [fault for fault in check_folder(folder) if fault.file == "stations.csv"]
    assert (fault.row, fault.column) == (2, "name")
    assert len(str(fault)) < 300


def test_posts_without_a_distance_between_them_are_refused(folder: Path) -> None:
    path = folder / "route.toml"
    path.write_text(
        path.read_text(encoding="utf-8").replace('"0m 20ch"', '"0m 00ch"'), encoding="utf-8"
    )
    assert [fault.column for fault in check_folder(folder)] == ["posts.every"]
