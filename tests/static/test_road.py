"""The Brief's list of stops is read in a minute: every trip of both demo lines, on any rail.

Reading rate: adults read English prose silently at 238 words a minute on average, most of
them at 175 to 300 (M. Brysbaert, "How many words do we read per minute? A review and
meta-analysis of reading rate", Journal of Memory and Language 109, 2019, 104047, abstract).
A list of names and marks is no prose, and a platform no desk: 200 is ours, on the slow side.
German needs no more words for the same, and is held to the same number.
"""

from __future__ import annotations

import json
import subprocess
import sys
from pathlib import Path
from typing import Any

import pytest

from tests.support.demo_packs import demo_packs

WORDS_PER_MINUTE = 200
#: Every listed place of both demo lines is in season.
WORST_DAY = "2026-11-20"
HERE = Path(__file__).parent


@pytest.fixture(scope="module")
def packs(demo_data: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    file = tmp_path_factory.mktemp("road") / "packs.json"
    file.write_text(json.dumps(demo_packs(demo_data)), "utf-8")
    return file


def deno(script: str, packs: Path) -> list[str]:
    program = Path(sys.executable).with_name("deno")
    command = [str(program), "run", "--no-check", "--allow-read", str(HERE / script)]
    run = subprocess.run(
        [*command, str(packs), WORST_DAY], capture_output=True, text=True, timeout=120
    )
    assert run.returncode == 0, run.stderr
    return run.stdout.splitlines()


@pytest.fixture(scope="module")
def trips(packs: Path) -> list[dict[str, Any]]:
    return [json.loads(line) for line in deno("measure_road.js", packs)]


def test_the_list_of_stops_is_read_in_a_minute_on_any_rail_in_both_languages(
    trips: list[dict[str, Any]],
):
    kinds = {(one["route"], one["state"], one["language"]) for one in trips}
    assert len(kinds) == 2 * 5 * 2
    for kind in sorted(kinds):
        mine = [one for one in trips if (one["route"], one["state"], one["language"]) == kind]
        most = max(mine, key=lambda one: one["words"])
        seconds = 60 * most["words"] / WORDS_PER_MINUTE
        print(
            f"{' '.join(kind):20} {most['trip']} {most['words']} words, {seconds:.0f} s;",
            end=" ",
        )
        print(f"{most['unfolded']} unfolded")
        assert most["words"] <= WORDS_PER_MINUTE, kind


def test_unfolded_the_longest_trips_would_take_longer(trips: list[dict[str, Any]]):
    """Else nothing would need to be drawn together."""
    long = [one for one in trips if one["stops"] == max(two["stops"] for two in trips)]
    assert any(one["unfolded"] > 1.5 * WORDS_PER_MINUTE for one in long)
    assert all(one["words"] < one["unfolded"] for one in trips)


def test_in_every_state_of_the_train_counts_add_up_and_a_warning_meets_its_own_stops(
    packs: Path,
):
    """Every trip of both lines, every rail that may be picked, nine states of the train."""
    [views] = deno("check_prepared.js", packs)
    assert int(views) > 500
