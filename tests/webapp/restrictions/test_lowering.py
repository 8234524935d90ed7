"""A restriction only lowers speeds that are shown: in Python, and on the tablet alike."""

from __future__ import annotations

import json
import random
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

from hypothesis import given, settings
from hypothesis import strategies as st

from tests.static.test_core import GOLDEN, deno
from webapp.lines.base import Base
from webapp.lines.lookup import look_up
from webapp.lines.lowering import in_force, lowered

SCRIPT = Path(__file__).parents[2] / "static" / "compare_lowered.js"
NOW = datetime(2026, 11, 25, 8, 0, tzinfo=UTC)
PACK = json.loads(GOLDEN.read_text("utf-8"))
TABLE = PACK["table"]
BASE: dict[str, Any] = PACK["base"] | {
    "route": PACK["base"]["route"] | {"datum": "the old quay", "mps_per_unit": 0.44704},
    "trains": [
        {**one, "length_m": 80 * (n + 1)} for n, one in enumerate(PACK["base"]["trains"])
    ],
}
# 1 mph = 1609.344 m / 3600 s exactly (agreement of 1959); 1 km/h = 1/3.6 m/s.
TO_MPS = {"mph": 1609.344 / 3600, "kmh": 1 / 3.6}
CELLS = st.fixed_dictionaries(
    {
        "target": st.integers(0, len(BASE["targets"]) - 1),
        "train": st.integers(0, len(BASE["trains"]) - 1),
        "state": st.integers(0, len(BASE["states"]) - 1),
        "season": st.integers(0, 1),
    }
)


@st.composite
def restrictions(draw: st.DrawFn) -> dict[str, Any]:
    ends = sorted(draw(st.tuples(st.integers(-200, 4000), st.integers(-200, 4000))))
    speed, unit = draw(st.integers(1, 60)), draw(st.sampled_from(["mph", "kmh"]))
    from_at = NOW + timedelta(hours=draw(st.sampled_from([-30, -1, 2, 50])))
    until = from_at + timedelta(hours=draw(st.integers(1, 40)))
    return {
        "id": str(draw(st.uuids(version=4))),
        "rev": 1,
        "line": draw(st.sampled_from(["golden", "golden", "golden", "another"])),
        "direction": draw(st.sampled_from(["down", "up", "unheard of"])),
        "datum": draw(st.sampled_from(["the old quay", "the old quay", "the new quay"])),
        "from_m": float(ends[0]),
        "to_m": float(ends[1] + 1),
        **{"speed": speed, "unit": unit, "speed_mps": round(speed * TO_MPS[unit], 4)},
        "from_at": f"{from_at:%Y-%m-%dT%H:%M:%SZ}",
        "until_at": draw(st.sampled_from([None, f"{until:%Y-%m-%dT%H:%M:%SZ}"])),
        "reference": "notice 14",
    }


MANY = st.lists(restrictions(), max_size=6, unique_by=lambda one: one["id"])


def advised(cell: dict[str, int], items: list[dict[str, Any]]) -> tuple[Any, Any, list[str]]:
    plain = look_up(BASE, TABLE, **cell, speed=30)
    where = (cell["season"], cell["target"], cell["state"], cell["train"])
    live = in_force(Base(BASE), BASE["targets"][cell["target"]]["direction"], items, NOW)
    return plain, *lowered(BASE, TABLE, where, plain, live)


def without_speeds(advice: dict[str, Any] | None) -> Any:
    if advice is None:
        return None
    rest = {key: advice[key] for key in advice.keys() - {"speeds", "run_in", "worse"}}
    return rest, without_speeds(advice.get("worse"))


@given(CELLS, MANY)
def test_no_speed_is_raised_and_nothing_else_is_touched(
    cell: dict[str, int], items: list[dict[str, Any]]
) -> None:
    plain, found, by = advised(cell, items)
    assert without_speeds(found) == without_speeds(plain)
    for before, after in ((plain, found), (plain["worse"], found["worse"])):
        if before is None:
            continue
        pairs = list(zip(before["speeds"], after["speeds"], strict=True))
        assert all(b["words"] == a["words"] and 0 < a["speed"] <= b["speed"] for b, a in pairs)
        assert (after["run_in"] or 0) <= (before["run_in"] or 0)
        assert bool(before["run_in"]) == bool(after["run_in"])
    changed = plain["speeds"] != found["speeds"]
    assert changed == bool(by)


@given(CELLS, MANY, st.randoms())
def test_their_order_does_not_matter_and_the_lowest_counts(
    cell: dict[str, int], items: list[dict[str, Any]], rng: random.Random
) -> None:
    plain, found, by = advised(cell, items)
    mixed = rng.sample(items, len(items))
    assert advised(cell, mixed) == (plain, found, by)
    alone = [advised(cell, [one])[1]["speeds"] for one in items]
    for n, shown in enumerate(found["speeds"]):
        least = min([plain["speeds"][n]["speed"], *(one[n]["speed"] for one in alone)])
        assert shown["speed"] == least


def test_an_end_that_has_passed_and_one_still_to_come() -> None:
    """Nobody's clock ends one; before its start it lowers nothing."""
    cell = {"target": 0, "train": 0, "state": 0, "season": 0}
    item = {
        **{"id": "a", "rev": 1, "line": "golden", "direction": "down", "reference": "14"},
        **{"datum": "the old quay", "from_m": -500.0, "to_m": 9000.0},
        **{"speed": 17, "unit": "mph", "speed_mps": 7.5997, "until_at": None},
    }
    plain = look_up(BASE, TABLE, **cell, speed=30)
    assert [one["speed"] for one in plain["speeds"]] == [40, 20]
    over = {"from_at": "2026-11-20T08:00:00Z", "until_at": "2026-11-21T08:00:00Z"}
    _, found, by = advised(cell, [item | over])
    # 17 mph is down to the 15 of the dial.
    assert [one["speed"] for one in found["speeds"]] == [15, 15] and by == ["a"]
    assert advised(cell, [item | {"from_at": "2026-11-25T09:00:00Z"}])[1] == plain


def test_it_counts_until_the_rear_of_the_train_has_left_it() -> None:
    """A landmark a little beyond its end: the shorter train has left, the longer has not."""
    at = BASE["landmarks"][TABLE["columns"]["speeds"][0][0][0][0][0][0]]["at_m"]
    item = {
        **{"id": "a", "rev": 1, "line": "golden", "direction": "down", "reference": "14"},
        **{"datum": "the old quay", "from_m": at - 1000.0, "to_m": at - 120.0},
        **{"speed": 10, "unit": "mph", "speed_mps": 4.4704, "until_at": None},
        "from_at": "2026-11-20T08:00:00Z",
    }
    speeds = {}
    for train in (0, 1):
        cell = {"target": 0, "train": train, "state": 0, "season": 0}
        picked = TABLE["columns"]["speeds"][0][0][0][train]
        assert BASE["landmarks"][picked[0][0]]["at_m"] == at
        speeds[train] = advised(cell, [item])[1]["speeds"][0]["speed"]
    assert speeds == {0: 40, 1: 10}


def test_the_tablet_finds_the_same(tmp_path: Path) -> None:
    rng = random.Random(2026)
    cases: list[dict[str, Any]] = []

    @settings(max_examples=400, derandomize=True)
    @given(CELLS, MANY)
    def gather(cell: dict[str, int], items: list[dict[str, Any]]) -> None:
        _, found, by = advised(cell, rng.sample(items, len(items)))
        cases.append({"cell": cell, "items": items, "answer": {"advice": found, "by": by}})

    gather()
    changed = sum(bool(case["answer"]["by"]) for case in cases)
    assert len(cases) >= 300 and changed >= 30, (len(cases), changed)
    file = tmp_path / "cases.json"
    now = int(NOW.timestamp() * 1000)
    content = {"base": BASE, "table": TABLE, "now": now, "cases": cases}
    file.write_text(json.dumps(content), "utf-8")
    run = deno("run", "--no-check", "--allow-read", str(SCRIPT), str(file))
    assert run.returncode == 0, run.stdout + run.stderr
    assert run.stdout.strip() == f"{len(cases)} equal"
