"""`step-in-hand warning`: what a depot without a desk types."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest
from click.testing import CliRunner, Result
from flask import Flask

from tests.support.warned import publish_line
from webapp.commands.cli import cli

GOOD = (
    *("--line", "larch-valley", "--direction", "down", "--from", "31m 20ch"),
    *("--to", "32m 10ch", "--reason", "leaf film", "--told-by", "signaller, Harrowmere"),
    *("--who", "a test"),
)
SAID = ("--told-by", "signaller", "--who", "a test")
Run = Callable[..., Result]


@pytest.fixture
def run(lone_app: Flask, tmp_path: Path) -> Run:
    publish_line(lone_app)
    data = ("--data", str(tmp_path / "data"))
    return lambda *args: CliRunner().invoke(cli, ["warning", *args, *data])


def test_publish_list_amend_end(run: Run) -> None:
    made = run("publish", *GOOD, "--adhesion", "0.05")
    assert made.exit_code == 0, made.output
    name = made.output.split()[0]
    assert (
        f"{name}  rev 2  published  larch-valley down  31 mi 20 ch to 32 mi 10 ch"
        in made.output
    )
    assert "leaf, since" in made.output
    assert run("list").output == made.output
    stale = run("end", name, "--rev", "1", "--told-by", "signaller", "--who", "a test")
    assert stale.exit_code == 1 and "is at revision 2 now, not 1" in stale.output
    amended = run("amend", name, "--rev", "2", "--state", "very-low", "--who", "a test")
    assert "rev 3  published" in amended.output and "very-low" in amended.output
    asked = run("end", name, "--rev", "3", *SAID)
    assert asked.exit_code == 1
    assert "nothing was ended.\n  missing: " in asked.output
    assert "--override" in asked.output
    ended = run("end", name, "--rev", "3", *SAID, "--override", "closed for the night")
    assert "rev 4  ended" in ended.output
    assert "The signaller knows what is" in run("list").output
    assert run("list", "--ended").output == ended.output


def test_the_end_needs_no_reason_once_its_steps_were_told(run: Run) -> None:
    """Inspected, then a test stop that was not reportable: the rule as it stands."""
    name = run("publish", *GOOD, "--state", "leaf").output.split()[0]
    before = run("end", name, "--rev", "2", *SAID)
    assert before.output.count("missing:") == 2
    assert run("step", name, "inspected", *SAID).exit_code == 0
    halfway = run("end", name, "--rev", "2", *SAID)
    assert halfway.output.count("missing:") == 1
    assert run("step", name, "test stop", "--result", "good", *SAID).exit_code == 0
    assert "rev 3  ended" in run("end", name, "--rev", "2", *SAID).output
    assert "This warning is not in force" in run("step", name, "treated", *SAID).output


def test_a_time_that_is_none_is_named(run: Run) -> None:
    name = run("publish", *GOOD, "--state", "leaf").output.split()[0]
    refused = run("end", name, "--rev", "2", *SAID, "--told-at", "noon")
    assert refused.exit_code == 2 and "--told-at: Send an RFC 3339 time" in refused.output


def test_what_is_wrong_is_named_by_its_option(run: Run) -> None:
    refused = run("publish", *GOOD, "--state", "soup", "--review-at", "soon")
    assert refused.exit_code == 1
    assert "nothing was changed. --review-at: Send an RFC 3339 time" in refused.output
    refused = run("publish", *GOOD[:-6], *GOOD[-4:], "--state", "leaf")
    assert "--reason: Missing data" in refused.output
    refused = run("publish", *GOOD, "--state", "leaf", "--to", "12.5")
    assert "--to: '12.5' is no place on this line. Type miles and chains" in refused.output
    assert "The signaller knows what is" in run("list").output


def test_amending_needs_something_to_amend(run: Run) -> None:
    name = run("publish", *GOOD, "--state", "leaf").output.split()[0]
    refused = run("amend", name, "--rev", "2", "--who", "a test")
    assert refused.exit_code == 2 and "give at least one of the fields" in refused.output
