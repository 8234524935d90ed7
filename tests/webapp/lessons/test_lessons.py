"""The page and the command of lessons: what is kept is what is worked out, and is shown."""

from __future__ import annotations

import re
from dataclasses import asdict, replace

import pytest
from click.testing import CliRunner

from webapp.commands.cli import cli
from webapp.packs.fixed_words import FIXED_WORDS
from webapp.pages.lessons import kept, show, views, work
from webapp.pages.lessons.kept import Lessons
from webapp.plain import drawing


@pytest.fixture(scope="module")
def run() -> Lessons:
    return work.run()


def differences(old, new, where="lessons"):
    """Places where two nests differ by more than the last kept digit of a figure."""
    if isinstance(old, dict):
        assert old.keys() == new.keys(), where
        return [d for k in old for d in differences(old[k], new[k], f"{where}.{k}")]
    if isinstance(old, list | tuple):
        if not isinstance(new, list | tuple) or len(old) != len(new):
            return [where]
        pairs = enumerate(zip(old, new, strict=True))
        return [d for i, (a, b) in pairs for d in differences(a, b, f"{where}[{i}]")]
    if type(old) is int and type(new) is int:
        return [where] * (abs(old - new) > 1)
    if isinstance(old, float) and isinstance(new, float):
        return [where] * (abs(old - new) > 0.11)
    return [where] * (old != new)


def test_what_is_kept_is_what_is_worked_out(run):
    cure = "run step-in-hand lessons --write and commit webapp/pages/lessons/lessons.json"
    assert differences(asdict(kept.stored()), asdict(run)) == [], cure


def test_a_difference_is_found(run):
    first, second = run.approaches
    other = replace(run, approaches=(first, replace(second, slid_m=second.slid_m + 2)))
    assert differences(asdict(run), asdict(other)) == ["lessons.approaches[1].slid_m"]
    assert (
        differences([True], [False]) and differences([1, 2], [1]) and differences(None, (1,))
    )


def test_kept_figures_come_back_as_they_were(tmp_path, run):
    kept.write(run, tmp_path / "lessons.json")
    assert kept.read(tmp_path / "lessons.json") == run


def test_words_of_the_page_hold(run):
    """The page says these in words, so the figures must say so too."""
    usual, softer = run.approaches
    assert usual.off_platform_m > 0 and usual.slid_m > 0 and not usual.step_in_hand
    assert softer.slid_m == 0 and softer.past_mark_m <= 0 and softer.step_in_hand
    assert softer.brake_before_m > usual.brake_before_m
    assert [state.name for state in run.brakes.states] == [
        *("dry", "damp", "leaf film", "very low"),
    ]
    dry, _, leaf, _ = (state.metres for state in run.brakes.states)
    fastest = run.brakes.speeds_mph.index(max(run.brakes.speeds_mph))
    assert dry[1][fastest] > dry[0][fastest]
    assert all(tread < disc for tread, disc in zip(leaf[1], leaf[0], strict=True))
    assert show.widest(run.brakes) <= 10


def test_slide_words_are_the_fixed_ones():
    assert views.SLIDE_WORDS == FIXED_WORDS["W4"]


def test_command_prints_both_and_keeps_them(run, monkeypatch, tmp_path):
    monkeypatch.setattr(work, "run", lambda: run)
    written = []
    monkeypatch.setattr(kept, "write", written.append)
    done = CliRunner().invoke(cli, ["lessons"])
    assert done.exit_code == 0 and written == []
    for one in run.approaches:
        for what, value in show.facts(one, run.scene):
            assert re.search(rf"{re.escape(what)} +{re.escape(value)}", done.output)
    for state in run.brakes.states:
        assert f"{state.name.capitalize()}, adhesion {state.adhesion}" in done.output
        assert all(f"{m:,}" in done.output for row in state.metres for m in row)
    assert CliRunner().invoke(cli, ["lessons", "--write"]).exit_code == 0
    assert written == [run]


def test_page_shows_every_figure(lone_app):
    answer = lone_app.test_client().get("/lessons")
    assert answer.status_code == 200
    text = answer.get_data(as_text=True)
    lessons = kept.stored()
    for one in lessons.approaches:
        for _, value in show.facts(one, lessons.scene):
            assert f"<dd>{value}</dd>" in text
    for state in lessons.brakes.states:
        for metres, slid in zip(state.metres, state.slid, strict=True):
            for figure, slides in zip(metres, slid, strict=True):
                mark = ' <span class="quiet">slides</span>' if slides else ""
                assert f"<td>{figure:,}{mark}</td>" in text
    assert FIXED_WORDS["W4"] in text
    assert "Company instructions come first" in text and "not a promise" in text
    assert "<script" not in text and "style=" not in text and "<style" not in text
    style = lone_app.test_client().get("/lessons/lessons.css")
    assert style.content_type.startswith("text/css")


def test_every_picture_has_a_text_and_strokes_that_differ(lone_app):
    text = lone_app.test_client().get("/lessons").get_data(as_text=True)
    page = views.shown()
    pictures = (page.approaches, *page.stops)
    assert len(re.findall(r'<svg [^>]*role="img"', text)) == len(pictures) == 5
    for one in pictures:
        assert f'aria-labelledby="{one.key}-title {one.key}-text"' in text
        assert f'id="{one.key}-title"' in text and f'id="{one.key}-text"' in text
        kinds = [stroke.kind for stroke in one.strokes]
        assert len(set(kinds)) == len(kinds) >= 2


def test_lines_stay_inside_the_picture():
    page = views.shown()
    for one in (page.approaches, *page.stops):
        for stroke in one.strokes:
            points = [tuple(map(float, p.split(","))) for p in stroke.points.split()]
            assert all(drawing.LEFT <= x <= drawing.RIGHT for x, _ in points)
            assert all(drawing.TOP <= y <= drawing.BOTTOM for _, y in points)
            assert points[0][1] == drawing.TOP and points[-1][1] == drawing.BOTTOM


def test_trust_leads_to_the_lessons(lone_app):
    assert 'href="/lessons"' in lone_app.test_client().get("/checks").get_data(as_text=True)
