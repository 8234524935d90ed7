"""The command that prints one approach with every intermediate figure."""

from __future__ import annotations

import json
import re

import pytest
from click.testing import CliRunner

from webapp.commands.approach import approach_command

CALL = ["kettle-bay", "brinewick/down", "--train", "disc-4", "--rail", "damp"]


def run(*words: str) -> dict[str, object]:
    result = CliRunner().invoke(approach_command, [*CALL, *words, "--json"])
    assert result.exit_code == 0, result.output
    return json.loads(result.output)


@pytest.fixture(scope="module")
def figures() -> dict[str, object]:
    return run("--speed", "60")


def test_the_braking_force_can_be_followed_by_hand(figures: dict) -> None:
    """f = rate (1 + rho) - r: a quoted rate is a measured deceleration."""
    given, step = figures["inputs"], figures["steps"][1]
    a, b, c = given["resistance_N"]
    v = figures["approach_speed"]["mps"]
    resistance = (a + b * v + c * v * v) / given["mass_kg"]
    by_hand = step["rate"] * (1 + given["rotating_share"]) - resistance
    assert step["force"] == pytest.approx(by_hand, rel=1e-6)


def test_the_forward_run_reaches_the_mark_with_two_applications_at_most(figures: dict) -> None:
    run_ = figures["forward_run"]
    assert -2 <= run_["stands_m_before_mark"] <= 8
    assert run_["applications"] <= 2
    assert run_["any_wheelset_slid"] is False


def test_the_printed_brake_point_is_the_rounded_one(figures: dict) -> None:
    result = figures["result"]
    assert result["brake_rounded_out_m"] >= result["brake_m"]
    assert result["brake_rounded_out_m"] % 5 == 0


def test_a_broken_speed_takes_the_next_whole_one() -> None:
    assert run("--speed", "59.2")["result"]["whole_speed_used"] == 60
    assert run("--speed", "1e-9")["result"]["whole_speed_used"] == 1


@pytest.mark.parametrize(
    ("words", "message"),
    [
        (["kettle-bay", "nowhere/down", "--train", "disc-4"], "no stop 'nowhere/down'"),
        (["kettle-bay", "brinewick/down", "--train", "steam-9"], "no train 'steam-9'"),
        (["no-such-line", "brinewick/down", "--train", "disc-4"], "neither a folder nor"),
    ],
)
def test_an_unknown_name_is_told_with_the_known_ones(words: list[str], message: str) -> None:
    call = [*words, "--rail", "damp", "--speed", "60"]
    result = CliRunner().invoke(approach_command, call)
    assert result.exit_code == 2
    assert message in result.output


def test_all_faults_are_told_at_once_and_the_nearest_names_with_them() -> None:
    call = ["kettle-bay", "harrowmer/down", "--train", "disk-4", "--rail", "leave"]
    result = CliRunner().invoke(approach_command, [*call, "--speed", "500"])
    assert result.exit_code == 2
    for words in ("nearest are harrowmere/down", "disc-4", "leaf", "from 1 to"):
        assert words in result.output, words
    assert result.output.count("no ") >= 3


def test_the_printed_page_has_words_and_units_and_no_field_names() -> None:
    result = CliRunner().invoke(approach_command, [*CALL, "--speed", "60"])
    assert result.exit_code == 0
    assert "_" not in result.output
    assert "Approach speed: 60 mph" in result.output
    assert re.search(r"^  Brake: [\d.]+ m$", result.output, re.M)


@pytest.mark.parametrize("speed", ["-5", "0", "500", "nan"])
def test_an_impossible_speed_is_refused(speed: str) -> None:
    result = CliRunner().invoke(approach_command, [*CALL, "--speed", speed])
    assert result.exit_code == 2
    assert "speed" in result.output
