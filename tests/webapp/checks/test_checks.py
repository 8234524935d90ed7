"""The page and the command on trust: every check shown, and what is kept is what is run."""

from __future__ import annotations

from dataclasses import replace

import pytest
from click.testing import CliRunner

from tests.outside.row import all_rows
from webapp.commands.cli import cli
from webapp.lines.base import Base
from webapp.pages.checks import checks, collect, show, views
from webapp.pages.checks.assumptions import grouped, of_the_program
from webapp.pages.checks.checks import Check, Checks, Family


@pytest.fixture(scope="module")
def run() -> Checks:
    return collect.run()


def bare(check: Check) -> Check:
    """The check without what may differ in its last digit by machine."""
    return replace(check, ours=0.0)


def test_what_is_kept_is_what_is_run(run):
    kept = checks.stored()
    cure = "run step-in-hand checks --write and commit webapp/pages/checks/checks.json"
    assert [family.name for family in kept.families] == [f.name for f in run.families], cure
    assert [bare(check) for check in kept] == [bare(check) for check in run], cure
    assert kept.statuses == run.statuses
    for old, new in zip(kept, run, strict=True):
        assert old.ours == pytest.approx(new.ours, rel=1e-3, abs=1e-6), (old.what, cure)


def test_every_row_is_a_check_and_holds(run):
    assert run.count == len(all_rows()) >= 40
    assert [check.what for check in run if not check.holds] == []


def example(**changes) -> Check:
    fields = {"theirs": (1.0, 2.0), "ours": 1.5, "within": 0.1, "unit": "m"} | changes
    return Check("a length", "a text", "https://example.org", "CONFIRMED", why="so", **fields)


@pytest.mark.parametrize(
    ("changes", "error", "holds"),
    [
        ({}, 0.0, True),
        ({"ours": 2.05}, 0.05, True),
        ({"ours": 0.95}, -0.05, True),
        ({"ours": 2.2}, 0.2, False),
        ({"ours": 0.8}, -0.2, False),
        ({"theirs": 3.0, "ours": 3.05}, 0.05, True),
        ({"theirs": 3.0, "ours": 2.8}, -0.2, False),
        ({"theirs": 10_001_965.729, "ours": 10_001_965.74, "within": 1e-3}, 0.011, False),
        ({"theirs": 1.0, "ours": 1.00001, "within": 0.0}, 0.00001, False),
    ],
)
def test_error_and_verdict(changes, error, holds):
    check = example(**changes)
    assert check.error == pytest.approx(error)
    assert check.holds is holds


@pytest.mark.parametrize(
    ("value", "text"),
    [
        (0.0, "0"),
        (1541.12, "1541.12"),
        (-0.25, "\N{MINUS SIGN}0.25"),
        (1e-06, "0.000001"),
        (10_001_965.729, "10,001,965.729"),
        (-12345.5, "\N{MINUS SIGN}12,345.5"),
        (1e-11, "1e\N{MINUS SIGN}11"),
        (0.606777, "0.606777"),
    ],
)
def test_figures_are_written_for_people(value, text):
    assert show.figure(value) == text


@pytest.mark.parametrize(
    ("value", "within", "kept"),
    [
        (10_001_965.72912345, 1e-3, 10_001_965.729123),
        (641.3264999, 18.7, 641.326),
        (0.18292682926829, 0.0, 0.182927),
        (0.0, 0.1, 0.0),
    ],
)
def test_figures_keep_the_digits_that_matter(value, within, kept):
    assert checks.rounded(value, within) == kept


def test_kept_checks_come_back_as_they_were(tmp_path, run, monkeypatch):
    path = tmp_path / "checks.json"
    checks.write(run, path)
    monkeypatch.setattr(checks, "STORED", path)
    assert checks.stored.__wrapped__() == run


def test_command_prints_every_row(run):
    done = CliRunner().invoke(cli, ["checks"])
    assert done.exit_code == 0, done.output
    for check in run:
        assert check.what in done.output
        assert check.why in done.output
        assert check.address in done.output
    assert done.output.count("\n  holds  ") == run.count
    assert f"{run.count} of {run.count} checks hold" in done.output


def test_command_fails_where_a_check_does(monkeypatch):
    failing = Checks({"CONFIRMED": "seen"}, (Family("some", (example(ours=9.0),)),))
    monkeypatch.setattr(collect, "run", lambda: failing)
    done = CliRunner().invoke(cli, ["checks"])
    assert done.exit_code != 0
    assert "FAILS  a length" in done.output
    assert "1 checks do not hold" in done.output


def test_installed_command_prints_what_was_kept(monkeypatch, tmp_path):
    monkeypatch.setattr(collect, "ROOT", tmp_path)
    done = CliRunner().invoke(cli, ["checks"])
    assert done.exit_code == 0
    assert "As kept with this version, not run again" in done.output
    assert checks.stored().families[0].checks[0].what in done.output
    refused = CliRunner().invoke(cli, ["checks", "--write"])
    assert refused.exit_code != 0
    assert "nothing to write" in refused.output


BASE = {
    "route": {"name": "Mill line", "speed_unit": "kmh"},
    "assumptions": [
        {"what": "Reaction", "value": "2 s", "basis": "assumption: no source"},
        {"what": "Rail state Damp: plan", "value": "0.07", "basis": "assumption: below dew"},
        {"what": "Unit: max_speed", "value": "120", "basis": "assumption: <b>own</b>"},
    ],
}


def test_assumptions_are_grouped_once_in_words():
    other = BASE | {"route": {"name": "Ford line", "speed_unit": "mph"}}
    groups = {group.name: group.entries for group in grouped([Base(BASE), Base(other)])}
    assert list(groups) == ["All trains and rails", "Rail states", "Unit"]
    (reaction,) = groups["All trains and rails"]
    assert (reaction.basis, reaction.lines) == ("no source", ("Mill line", "Ford line"))
    assert [entry.value for entry in groups["Unit"]] == ["120 km/h", "120 mph"]
    assert groups["Unit"][0].what == "top speed"


def test_page_shows_every_check_and_the_assumptions(lone_app, monkeypatch):
    monkeypatch.setattr(
        views, "assumptions", lambda session: (["Mill line"], grouped([Base(BASE)]))
    )
    page = lone_app.test_client().get("/checks")
    assert page.status_code == 200
    text = page.get_data(as_text=True)
    kept = checks.stored()
    assert text.count('<dl class="figures">') == kept.count
    for family in kept.families:
        assert text.count(f"{len(family.checks)} hold") >= 1
    assert f"All {kept.count} checks hold." in text
    assert "120 km/h" in text
    assert "&lt;b&gt;own" in text
    assert "<script" not in text and "style=" not in text
    assert lone_app.test_client().get("/checks/checks.css").content_type.startswith("text/css")


def test_the_former_address_leads_to_it(lone_app):
    answer = lone_app.test_client().get("/trust")
    assert (answer.status_code, answer.headers["Location"]) == (308, "/checks")


def test_page_says_what_does_not_hold(lone_app, monkeypatch):
    failing = Checks({"CONFIRMED": "seen"}, (Family("some", (example(ours=9.0),)),))
    monkeypatch.setattr(checks, "stored", lambda: failing)
    text = lone_app.test_client().get("/checks").get_data(as_text=True)
    assert "1 of 1 checks do not hold" in text
    assert "a length: does not hold" in text
    assert "checks hold." not in text


def test_page_without_a_published_line_says_so(lone_app):
    text = lone_app.test_client().get("/checks").get_data(as_text=True)
    assert "No line is published here" in text


def test_what_the_calculation_assumes_is_listed_with_value_and_basis() -> None:
    groups = {group.name: group.entries for group in of_the_program()}
    assert set(groups) >= {
        "Where braking begins",
        "Rail state proposed from weather",
        "Slides, disc and tread",
        "Grip from a recorder",
    }
    for entries in groups.values():
        assert len(entries) > 5
        assert all(entry.what and entry.value and entry.basis for entry in entries)
    values = {entry.what: entry.value for entry in groups["Slides, disc and tread"]}
    assert values["slide: share of the rail's adhesion that WSP holds"] == "0.85"
