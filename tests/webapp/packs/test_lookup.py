import json
from pathlib import Path
from typing import Any

import pytest

from webapp.lines.lookup import look_up

GOLDEN = Path(__file__).parents[2] / "golden" / "lookup.json"


@pytest.fixture(scope="module")
def golden() -> dict[str, Any]:
    return json.loads(GOLDEN.read_text(encoding="utf-8"))


def ask(pack: dict[str, Any], **change: Any) -> dict[str, Any]:
    cell = {"target": 0, "train": 0, "state": 0, "season": 0, "speed": 20} | change
    return look_up(pack["base"], pack["table"], **cell)


def test_every_golden_answer_is_given_again(golden):
    assert len(golden["queries"]) >= 300
    for query in golden["queries"]:
        assert ask(golden, **query["ask"]) == query["answer"], query["ask"]


def test_a_speed_between_units_counts_as_the_next_unit(golden):
    assert ask(golden, speed=33.1) == ask(golden, speed=34)


def test_interpolation_rounds_outward_in_integers(golden):
    column = golden["table"]["columns"]["brake"][0][0][0][0]
    low, high = column[4], column[5]
    exact = (low * 3 + high * 7) / 10
    assert exact <= ask(golden, speed=37)["brake"] < exact + 1


def test_below_the_first_knot_the_first_is_used(golden):
    assert ask(golden, speed=1)["brake"] == golden["table"]["columns"]["brake"][0][0][0][0][0]


def test_above_the_last_knot_there_is_no_figure(golden):
    answer = ask(golden, speed=60.01)
    assert answer["status"] == 2
    assert answer["brake"] is None and answer["mark"] is None and answer["speeds"] == []


@pytest.mark.parametrize("speed", [float("nan"), float("inf"), float("-inf")])
def test_a_speed_that_is_no_number_gives_no_advice(golden, speed):
    """As in table_test.js."""
    answer = ask(golden, speed=speed)
    assert (answer["status"], answer["brake"], answer["mark"]) == (2, None, None)


def test_a_bad_status_at_either_knot_wins(golden):
    assert ask(golden, state=2, speed=31)["status"] == 1
    assert ask(golden, state=2, speed=30)["status"] == 0
    assert ask(golden, state=3, speed=41)["status"] == 2


def test_a_train_without_a_mark_gets_no_figure(golden):
    assert ask(golden, target=1, train=1)["status"] == 2


def test_worse_is_the_next_state_and_the_last_has_none(golden):
    worse = ask(golden, state=0)["worse"]
    plain = ask(golden, state=1)
    plain.pop("worse")
    assert worse == plain
    assert ask(golden, state=3)["worse"] is None


@pytest.mark.parametrize("target", [0, 2])
def test_the_mark_is_the_last_landmark_before_the_point(golden, target):
    base = golden["base"]
    answer = ask(golden, target=target, speed=40)
    sign = 1 if target == 0 else -1
    point = base["targets"][target]["mark_m"][0] - sign * answer["brake"]
    ahead = [sign * (point - landmark["at_m"]) for landmark in base["landmarks"]]
    before = {i: d for i, d in enumerate(ahead) if d >= 0}
    nearest = min(before, key=before.__getitem__)
    assert answer["mark"]["index"] == nearest
    assert answer["mark"]["far"] == (before[nearest] > 300)


def test_all_the_way_counts_as_the_largest_cover(golden):
    pack = json.loads(json.dumps(golden))
    cover = pack["table"]["columns"]["cover"][0][0][0][0]
    cover[4], cover[5] = -1, 120
    assert ask(pack, speed=35)["cover"] == 120
    cover[5] = -1
    assert ask(pack, speed=35)["cover"] == -1
