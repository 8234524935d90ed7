"""What four questions propose is equal in Python and on the tablet, and never too good."""

from __future__ import annotations

import json
import random
from dataclasses import replace
from itertools import product
from pathlib import Path

import pytest

from calc.weather.asked import QUESTIONS
from tests.static.test_core import HERE, deno
from webapp.packs.model import Route
from webapp.packs.proposals import proposals_block, proposed
from webapp.packs.read import read_route
from webapp.packs.service import demo_routes

CODES = HERE / "proposal_codes.json"


@pytest.fixture(scope="module")
def route() -> Route:
    return read_route(demo_routes()["kettle-bay"])


@pytest.fixture(scope="module")
def base(route: Route) -> dict:
    return {"states": [{"key": state.key} for state in route.states], **proposals_block(route)}


def test_python_and_the_tablet_look_up_the_same_proposal(base: dict, tmp_path: Path):
    rng = random.Random(18)
    cases = []
    for _ in range(5_000):
        answers = {key: rng.choice([*known, None]) for key, known in QUESTIONS}
        if rng.random() < 0.9:
            answers = {key: rng.choice(known) for key, known in QUESTIONS}
        answers = {key: one for key, one in answers.items() if one is not None}
        when = (rng.randint(1, 12), rng.randrange(24)) if rng.random() < 0.95 else None
        leafy = rng.random() < 0.5
        found = proposed(base, answers, when, leafy)
        cases.append({"answers": answers, "when": when, "leafy": leafy, "found": found})
    assert 4_000 < sum(case["found"] is not None for case in cases) < 5_000
    file = tmp_path / "cases.json"
    file.write_text(json.dumps({"base": base, "cases": cases}), "utf-8")
    script = str(HERE / "compare_proposals.js")
    run = deno("run", "--no-check", "--allow-read", script, str(file))
    assert run.returncode == 0, run.stdout + run.stderr
    assert run.stdout.strip() == "5000 equal"


def test_a_pack_from_before_proposes_nothing():
    answers = {key: known[0] for key, known in QUESTIONS}
    assert proposed({"states": [{"key": "dry"}]}, answers, (11, 7)) is None


def test_an_unknown_time_counts_as_the_worst_of_all(base: dict):
    order = [state["key"] for state in base["states"]]
    for given in product(*(known for _, known in QUESTIONS)):
        answers = dict(zip((key for key, _ in QUESTIONS), given, strict=True))
        unknown = order.index(proposed(base, answers, None)["state"])
        known = [
            order.index(proposed(base, answers, (month, hour))["state"])
            for month in range(1, 13)
            for hour in range(24)
        ]
        assert unknown == max(known)


def test_the_words_of_the_tablet_are_held_against_every_code(base: dict):
    """`proposal_codes.json` is what `proposal_test.js` looks for words for."""
    table = base["proposals"]
    why = sorted({code for outcome in table["outcomes"] for code in outcome["why"]})
    assert json.loads(CODES.read_text("utf-8")) == {
        "questions": table["questions"],
        "why": why,
    }


def test_a_chain_without_a_state_for_a_condition_proposes_nothing(route: Route):
    states = tuple(state for state in route.states if state.key != "frost")
    assert proposals_block(replace(route, states=states)) == {}


def test_a_line_of_which_nobody_said_it_counts_as_one_with_leaf_fall(route: Route):
    for said, leafy in ((None, True), (True, True), (False, False)):
        changed = replace(route, settings=replace(route.settings, leaf_fall=said))
        assert proposals_block(changed)["proposals"]["leafy"] is leafy
