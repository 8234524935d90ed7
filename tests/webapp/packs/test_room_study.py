"""What a second buys: levels named once, worked out beside the server, picked by two."""

from __future__ import annotations

import re
import tomllib
from collections.abc import Iterator
from datetime import UTC, datetime
from functools import partial
from itertools import pairwise
from pathlib import Path
from typing import Any

import pytest
from flask import Flask
from flask.testing import FlaskClient

from calc.risk import room as risk_room
from tests.support.desk import account, entered, submit
from tests.support.short_route import short_route
from webapp.lines import in_use as in_use_
from webapp.packs import levels
from webapp.packs.axes import train_axis
from webapp.packs.files import Pack
from webapp.packs.levels import LEVELS, NAMES, NoLevel, level_of, with_level
from webapp.packs.read import read_route
from webapp.packs.room_study import study
from webapp.packs.service import build_pack
from webapp.packs.turned import table_input
from webapp.publish import builder, proposals, room, service
from webapp.publish.room_picture import draw
from webapp.store.db import reading, writing

ROUTE = "kettle-bay"
PAGE = f"/desk/packs/{ROUTE}/room"
quick = partial(study, stops=1, runs=20)


@pytest.fixture(scope="module")
def first(tmp_path_factory: pytest.TempPathFactory) -> Pack:
    return build_pack(short_route(tmp_path_factory.mktemp("short") / ROUTE))


@pytest.fixture
def line(app: Flask, first: Pack, monkeypatch: pytest.MonkeyPatch) -> Iterator[Flask]:
    """A depot in service with that line; what the desk asks for is done by the test."""
    with app.app_context(), writing() as session:
        proposals.store(session, first)
        service.publish(session, first, datetime.now(UTC))
    app.extensions["start_builder"] = lambda _app: None
    app.config["DEMO"] = False
    monkeypatch.setattr(room, "study", quick)
    # What a driver makes of an early mark is driven again and again: not needed here.
    monkeypatch.setattr(risk_room, "eased", lambda _given, runs: runs)
    yield app


def person(app: Flask, login: str) -> FlaskClient:
    return entered(app, account(app, login, "publish"))


def source(pack: Pack) -> dict[str, Any]:
    assert pack.source is not None
    return dict(in_use_.json.loads(pack.source.content))


def test_four_levels_each_with_no_less_room_than_the_one_before() -> None:
    assert len(LEVELS) == 4 and LEVELS[0].figures == levels.Figures()
    for less, more in pairwise(LEVELS):
        assert less.hand <= more.hand
        assert more.figures.brake_share <= less.figures.brake_share
        assert more.figures.late_s >= less.figures.late_s
        assert more.figures.slow_s >= less.figures.slow_s


@pytest.mark.parametrize("key", [one.key for one in LEVELS])
def test_a_route_that_names_a_level_is_worked_with_its_figures(
    key: str, tmp_path: Path
) -> None:
    folder = short_route(tmp_path / ROUTE)
    file = folder / "route.toml"
    file.write_text(file.read_text().replace('room = "plenty"', f'room = "{key}"'))
    route, one = read_route(folder), levels.level(key)
    told = table_input(route, route.directions[0], train_axis(route), ()).settings
    figures = one.figures
    assert (told.brake_share, told.late, told.slow) == (
        figures.brake_share, figures.late_s, figures.slow_s,
    )  # fmt: skip
    assert (told.quiet_from >= 0) == one.hand
    assert told.slide_eta == figures.slide_eta


def test_another_level_changes_one_word_of_the_source(first: Pack) -> None:
    was = source(first)
    now = with_level(was, "some")
    assert (level_of(was), level_of(now)) == ("plenty", "some")
    text = [one["files"]["route.toml"].splitlines() for one in (was, now)]
    assert sum(a != b for a, b in zip(*text, strict=True)) == 1
    assert with_level(now, "plenty") == was
    for key in ("lots", ""):
        with pytest.raises(KeyError):
            with_level(was, key)
    own = {**was, "files": {**was["files"], "route.toml": "[physics]\nlate_s = 1\n"}}
    with pytest.raises(NoLevel):
        with_level(own, "some")
    hidden = was["files"]["route.toml"].replace(
        "[physics]\n", '[physics] # \n"room" = "some" #'
    )
    hidden = re.sub(r'\nroom = "plenty"[^\n]*', "", hidden)
    assert tomllib.loads(hidden)["physics"]["room"] == "some"
    with pytest.raises(NoLevel, match="line of its own"):
        with_level({**was, "files": {**was["files"], "route.toml": hidden}}, "none")


def test_the_pack_states_the_levels_figures_and_names_no_level(first: Pack) -> None:
    base = in_use_.json.loads(first.file("base").content)
    stated = {one["what"]: one["value"] for one in base["assumptions"]}
    assert "0.9" in stated.values() and "from Damp on" in stated.values()
    for file in first.files:
        for one in LEVELS:
            assert one.name.encode() not in file.content
    for name in ("demo", *NAMES):
        assert name.encode() not in first.file("base").content.replace(b"demo company", b"")


def test_a_study_counts_every_level_over_the_same_approaches(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(risk_room, "eased", lambda _given, runs: runs)
    few = read_route(short_route(tmp_path / ROUTE))
    found = study(few, stops=2, runs=40, keys=("none", "plenty"))
    assert found["stops"] == 2 and found["runs"] == 40 and found["calls"] == 3
    assert [one["key"] for one in found["rails"]] == [s.key for s in few.states if s.pickable]
    for rail in found["rails"]:
        for row in rail["levels"]:
            for name in ("past_mark", "past_limit"):
                one = row[name]
                assert one["runs"] == 40 and one["low"] <= one["share"] <= one["high"]
            assert row["past_limit"]["hits"] <= row["past_mark"]["hits"]
            assert row["minutes"] == pytest.approx(row["seconds"] * found["calls"] / 60)
        none, plenty = rail["levels"]
        assert plenty["past_limit"]["hits"] <= none["past_limit"]["hits"] + 2
    cost = [sum(rail["levels"][n]["seconds"] for rail in found["rails"]) for n in (0, 1)]
    assert cost[1] > cost[0], "room costs time"
    assert study(few, stops=2, runs=40, keys=("none", "plenty")) == found, "the same again"
    for wrong in ({"stops": 0}, {"runs": 0}):
        with pytest.raises(ValueError, match="stops and runs"):
            study(few, **wrong)


def work(line: Flask) -> None:
    """As the builder does it, in this process."""
    builder.work(line)


def test_it_is_asked_for_worked_out_and_shown_with_picture_and_table(line: Flask) -> None:
    fenn = person(line, "fenn")
    assert "Not worked out yet" in fenn.get(PAGE).text
    assert submit(fenn, f"{PAGE}/ask", at=PAGE).status_code == 302
    assert "data-at-work" in fenn.get(PAGE).text
    assert submit(fenn, f"{PAGE}/ask", at="/desk/packs").status_code == 409
    work(line)
    page = fenn.get(PAGE).text
    assert "data-at-work" not in page and page.count("<tr>") == 1 + len(LEVELS)
    assert "<svg" in page and "(in use)" in page
    with line.app_context(), reading() as session:
        row = room.of_line(session, ROUTE)
        assert row is not None and row.result is not None and row.done_at is not None
        rails = row.result["rails"]
    for rail in rails:
        other = fenn.get(f"{PAGE}?rail={rail['key']}").text
        assert f"<h2>{rail['name']}</h2>" in other
        for one in rail["levels"]:
            assert f"{one['minutes']:.1f}" in other
    assert fenn.get(f"{PAGE}?rail=nothing").status_code == 200


def test_a_failure_says_why_and_the_last_result_stays(
    line: Flask, monkeypatch: pytest.MonkeyPatch
) -> None:
    fenn = person(line, "fenn")
    submit(fenn, f"{PAGE}/ask", at=PAGE)
    work(line)

    def broken(*_: object) -> None:
        raise RuntimeError("no room left on the disk")

    monkeypatch.setattr(room, "study", broken)
    submit(fenn, f"{PAGE}/ask", at=PAGE)
    work(line)
    page = fenn.get(PAGE).text
    assert "no room left on the disk" in page and "<svg" in page


def test_another_level_is_built_compared_and_approved_by_another_person(line: Flask) -> None:
    fenn, vale = person(line, "fenn"), person(line, "vale")
    submit(fenn, f"{PAGE}/ask", at=PAGE)
    assert submit(fenn, f"{PAGE}/build", at=PAGE, level="", reason="x").status_code == 422
    answer = submit(fenn, f"{PAGE}/build", at=PAGE, level="some", reason="the board's choice")
    assert answer.status_code == 302, answer.text
    number = int(answer.headers["Location"].rsplit("/", 1)[1])
    work(line)
    at = f"/desk/packs/proposals/{number}"
    page = fenn.get(at).text
    assert "another level of room" in page and "Level of room" in page
    assert LEVELS[2].name in page and LEVELS[3].name in page
    assert page.count("→") > 5, "what it costs and buys, by rail"
    assert submit(fenn, f"{at}/approve", at=at).status_code == 409, "nobody alone"
    assert submit(vale, f"{at}/approve", at=at).status_code == 302
    with line.app_context(), reading() as session:
        assert room.level_in(session, room.source_in_use(session, ROUTE)) == "some"
    page = vale.get(PAGE).text
    assert "files changed" not in page, "the level alone makes no other line"
    assert re.search(r"3\. [^<]*<strong>\(in use\)", page)


def test_a_pack_that_waits_comes_first(line: Flask, monkeypatch: pytest.MonkeyPatch) -> None:
    fenn = person(line, "fenn")
    submit(fenn, f"{PAGE}/ask", at=PAGE)
    begun = []

    def interrupted(route: Any, tell: Any) -> Any:
        if not begun:
            begun.append(route)
            submit(fenn, f"{PAGE}/build", at=PAGE, level="guess", reason="now")
        tell("approaches", 0, 5)
        return quick(route)

    monkeypatch.setattr(room, "study", interrupted)
    work(line)
    with line.app_context(), reading() as session:
        assert [one.state for one in proposals.open_ones(session)] == ["proposed"]
        row = room.of_line(session, ROUTE)
        assert row is not None and row.result is not None and row.progress is None


def test_a_line_with_figures_of_its_own_or_without_files_says_what_to_do(
    line: Flask, first: Pack
) -> None:
    fenn = person(line, "fenn")
    assert fenn.get("/desk/packs/nowhere/room").status_code == 404
    with line.app_context(), writing() as session:
        row = session.get(in_use_.PackFile, first.source.sha256 if first.source else "")
        session.delete(row)
    page = fenn.get(PAGE).text
    assert "files of this line are not here" in page and "<form" not in page.split("<h1>")[1]
    assert submit(fenn, f"{PAGE}/ask", at="/desk/packs").status_code == 409


def test_where_no_level_has_a_figure_there_is_no_picture() -> None:
    none = {"minutes": None, "seconds": None, "past_mark": None, "past_limit": None}
    assert draw({"key": "leaf", "name": "Leaf film", "levels": [none, none]}) is None
