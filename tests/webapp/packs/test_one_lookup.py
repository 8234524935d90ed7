"""Card, Brief, picture, desk and command line say the same of every stop, state and train."""

from __future__ import annotations

import json
import shutil
import subprocess
from collections.abc import Iterator
from dataclasses import fields, replace
from datetime import date
from itertools import pairwise
from pathlib import Path
from typing import Any

import pytest

from calc.model import TableInput
from calc.table import Table
from tests.webapp.packs.conftest import Built
from webapp.commands.approach import card
from webapp.lines import advice as advice_
from webapp.lines.advice import first_line, is_advised
from webapp.lines.base import Base
from webapp.lines.lookup import look_up
from webapp.lines.picture import drawn_approach, drawn_usual
from webapp.packs.service import OneTarget, one_target
from webapp.records import allowance
from webapp.records.reports import approach
from webapp.records.warnings import controlled_stop, effect
from webapp.records.warnings.models import Warned

Json = dict[str, Any]
SCRIPT = Path(__file__).with_name("agree_card.js")
ROOT = Path(__file__).parents[3]
DAY = "2026-11-20"


def pictures_of(demo: Built) -> dict[str, Json]:
    files = [json.loads(one.content) for one in demo.pack.files if one.kind == "pictures"]
    return {one["train"]: one for one in files}


@pytest.fixture(scope="module")
def tablet(demo: Built, tmp_path_factory: pytest.TempPathFactory) -> Json:
    """What the tablet's own modules say and draw, cell by cell and trip by trip."""
    folder = tmp_path_factory.mktemp("agree")
    pack = {"base": demo.base, "table": demo.table, "pictures": pictures_of(demo), "day": DAY}
    (folder / "pack.json").write_text(json.dumps(pack), "utf-8")
    deno = shutil.which("deno") or pytest.fail("no deno: pip install -e '.[test]'")
    command = [deno, "run", "--no-check", "--no-remote", "--quiet"]
    command += [f"--allow-read={folder},{ROOT}", f"--allow-write={folder}", str(SCRIPT)]
    names = [str(folder / name) for name in ("pack.json", "out.json")]
    run = subprocess.run([*command, *names], capture_output=True, text=True, timeout=120)
    assert run.returncode == 0, run.stderr
    return json.loads((folder / "out.json").read_text("utf-8"))


def cell_of(one: Json) -> tuple[int, int, int, int]:
    return one["season"], one["target"], one["state"], one["train"]


def limit_before(base: Json, target: Json, mark: float, before: float) -> float:
    """Return the line's speed at a place, the higher of two where one ends."""
    sign = next(d["sign"] for d in base["directions"] if d["key"] == target["direction"])
    at = mark - sign * before
    rows = base["limits"][target["direction"]]
    return max(speed for start, end, speed in rows if start - 1e-6 <= at <= end + 1e-6)


def test_the_card_says_what_python_looks_up(demo: Built, tablet: Json) -> None:
    base, advised = demo.base, 0
    for one in tablet["cells"]:
        ask = {name: one[name] for name in ("target", "train", "state", "season")}
        found = look_up(base, demo.table, **ask, speed=None)
        assert one["advice"] == found, ask
        target, train = base["targets"][one["target"]], base["trains"][one["train"]]
        assert one["first"] == first_line(base, found, target, train), ask
        advised += is_advised(found)
    assert advised > 1000


def test_the_picture_is_the_same_in_both_languages(demo: Built, tablet: Json) -> None:
    pictures, drawn = pictures_of(demo), 0
    for one in tablet["cells"]:
        train = demo.base["trains"][one["train"]]["key"]
        mine = drawn_approach(demo.base, demo.table, pictures[train], cell_of(one))
        assert one["drawn"] == mine, cell_of(one)
        drawn += mine is not None
        assert (mine is not None) == is_advised(one["advice"]), cell_of(one)
    assert drawn > 1000


def test_the_picture_never_contradicts_the_card(demo: Built, tablet: Json) -> None:
    base = demo.base
    for one in tablet["cells"]:
        if one["drawn"] is None:
            continue
        target, advice = base["targets"][one["target"]], one["advice"]
        mark = target["mark_m"][one["train"]]
        curve = one["drawn"]["advised"]
        begins, points = curve["begins"], curve["points"]
        assert points[-1][0] == begins and points[0][0] == 0
        assert [at for at, _ in points] == sorted(at for at, _ in points)
        # Begun at the mark that the card names, and never inside the brake point.
        assert begins >= advice["brake"]
        if advice["mark"] and not advice["flags"] & 2:
            there = base["landmarks"][advice["mark"]["index"]]["at_m"]
            assert begins == pytest.approx(abs(mark - there))
        fastest = demo.table["columns"]["approach"][one["season"]][one["target"]]
        assert points[-1][1] <= fastest[one["state"]][one["train"]]
        for before, speed in points:
            assert speed <= one["drawn"]["speed"]
            assert speed <= limit_before(base, target, mark, before) + 1e-9, cell_of(one)
        middles = pairwise(points)
        for (near, slow), (far, fast) in middles:
            between = limit_before(base, target, mark, (near + far) / 2)
            assert (slow + fast) / 2 <= between + 1e-9, cell_of(one)
        usual = one["drawn"]["usual"]
        assert usual is None or usual["begins"] <= begins + 1e-9


def test_the_desk_draws_and_says_the_same(demo: Built, tablet: Json) -> None:
    base, table, pictures = demo.base, demo.table, pictures_of(demo)
    for one in tablet["cells"]:
        at = advice_.Cell(one["target"], one["train"], one["state"], one["season"])
        train = base["trains"][one["train"]]
        drawn = approach.draw(Base(base), table, pictures[train["key"]], at, None)
        said = drawn.words[0].partition(": ")[2]
        assert said.startswith(one["first"].rstrip(".")), cell_of(one)
        assert drawn.picture is not None
        kinds = [stroke.words for stroke in drawn.picture.strokes]
        planned = f"advised, {base['states'][one['state']]['name']}"
        assert (planned in kinds) == (one["drawn"] is not None)
        usual = drawn_usual(base, table, pictures[train["key"]], cell_of(one))
        assert ("usual approach" in kinds) == (usual is not None)
        if one["drawn"] is not None:
            assert f"({one['drawn']['advised']['begins']:.0f} m before" in said


def test_the_view_for_a_test_stop_says_the_same(demo: Built, tablet: Json) -> None:
    base = Base(demo.base)
    for one in tablet["cells"]:
        target = base.targets[one["target"]]
        season = int(bool(target.listed) and base.in_season(target, DAY))
        if one["season"] != season:
            continue
        cell = controlled_stop.Cell(base, demo.table, one["train"], one["state"], DAY, ())
        said = controlled_stop.advice(cell, target, one["state"])
        assert said.words == one["first"], cell_of(one)
        figures = one["advice"] if is_advised(one["advice"]) else {}
        expected = (figures.get("brake"), figures.get("seconds"))
        assert (said.brake_m, said.seconds) == expected


def test_what_a_warning_changes_is_what_the_cards_say(demo: Built, tablet: Json) -> None:
    """At every stop and for every train: the card of each state, and of the warned one."""
    base, keys = demo.base, [one["key"] for one in demo.base["states"]]
    cards = {cell_of(one): one["first"] for one in tablet["cells"]}
    changed = same = 0
    for warned in ("damp", "leaf"):
        rank = keys.index(warned)
        for index, target in enumerate(base["targets"]):
            known = Base(base)
            stop = known.targets[index]
            season = int(bool(stop.listed) and known.in_season(stop, DAY))
            warning = Warned(
                direction=target["direction"], plan_state=warned, from_m=0.0, to_m=0.0,
                datum=base["route"]["datum"],
            )  # fmt: skip
            found = effect.stop(known, demo.table, stop, warning, (), (), DAY)
            assert target["name"] in found.name
            for group in found.trains:
                for train, unit in enumerate(base["trains"]):
                    if group.names is not None and unit["name"] not in group.names:
                        continue
                    if target["mark_m"][train] is None:
                        continue
                    pickable = [n for n, one in enumerate(base["states"]) if one["pickable"]]
                    for state, row in zip(pickable, group.rows, strict=True):
                        plain = cards[season, index, state, train]
                        now = cards[season, index, max(state, rank), train]
                        assert (row.without, row.warned) == (plain, now)
                        if plain != now:
                            assert row.same is None
                        changed, same = changed + (plain != now), same + (row.same is not None)
    assert changed > 100 and same > 100, (changed, same)


def test_control_adds_up_what_the_brief_adds_up(demo: Built, tablet: Json) -> None:
    rows = allowance.trips(Base(demo.base), demo.table, date.fromisoformat(DAY))
    found = [
        [one and {"seconds": one.seconds, "unknown": one.unknown} for one in row.given]
        for row in rows
    ]
    assert found == tablet["trips"]


def cut(demo: Built, stop: str) -> OneTarget:
    """The command line's own way to one stop, over what was computed for all."""

    def out_of_all(given: TableInput, _: Any) -> Table:
        keys = [target.key for target in given.targets]
        for half in demo.computed.halves:
            all_keys = [target.key for target in half.given.targets]
            if set(keys) <= set(all_keys):
                at = [all_keys.index(key) for key in keys]
                changed = {
                    one.name: getattr(half.table, one.name)[at]
                    for one in fields(Table)
                    if one.name != "nodes"
                }
                return replace(half.table, **changed)
        raise AssertionError(keys)

    train = demo.computed.trains[0].key
    found = one_target(demo.computed.route, stop, train, out_of_all)
    assert found is not None
    return found


def every_card(demo: Built, found: OneTarget, tablet: Json) -> Iterator[tuple[Json, Json]]:
    """Return what the command line says beside what the tablet says of one stop."""
    mine = [
        one
        for one in tablet["cells"]
        if demo.base["targets"][one["target"]]["key"]
        == found.base["targets"][found.target]["key"]
    ]
    for one in mine:
        at = replace(found, train=one["train"])
        yield card(at, one["state"], season=bool(one["season"])), one


def test_the_command_line_says_the_same_of_every_stop(demo: Built, tablet: Json) -> None:
    for target in demo.base["targets"]:
        for said, one in every_card(demo, cut(demo, target["key"]), tablet):
            assert said["first_line"] == one["first"], cell_of(one)
            figures = one["advice"]
            assert (said["brake_m"], said["seconds"]) == (figures["brake"], figures["seconds"])
            shown = [f"{each['speed']} {each['words']}" for each in figures["speeds"]]
            assert said["not_above"] == ", ".join(shown)


def test_one_stop_computed_alone_is_the_same(demo: Built, tablet: Json) -> None:
    """Also for a train with isolated brakes, which is bound by the same one with fewer."""
    stop = demo.base["targets"][len(demo.base["targets"]) // 3]["key"]
    found = one_target(demo.computed.route, stop, demo.computed.trains[-1].key)
    assert found is not None
    for said, one in every_card(demo, found, tablet):
        assert (said["first_line"], said["brake_m"]) == (
            one["first"],
            one["advice"]["brake"],
        ), cell_of(one)
