"""Python, the browser's module and the physics give the same advice, or a safer one."""

from __future__ import annotations

import json
import random
import shutil
import subprocess
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from tests.webapp.packs.conftest import Built
from webapp.lines.columns import ALL_THE_WAY
from webapp.lines.lookup import look_up

ROOT = Path(__file__).parents[3]
MODULE = ROOT / "static" / "core" / "table.js"
RUNNER = """
import {{ lookUp }} from "{module}";
const {{ base, table, asks }} = JSON.parse(Deno.readTextFileSync("{pack}"));
const answers = asks.map((ask) => lookUp(base, table, ask));
Deno.writeTextFileSync("{out}", JSON.stringify(answers));
"""


def random_asks(base: dict[str, Any], number: int, seed: int) -> list[dict[str, Any]]:
    rng = random.Random(seed)
    last = 1.05 * base["limits_top"]
    return [
        {
            "target": rng.randrange(len(base["targets"])),
            "train": rng.randrange(len(base["trains"])),
            "state": rng.randrange(len(base["states"])),
            "season": rng.randrange(2),
            "speed": rng.choice(
                [rng.randrange(0, int(last)), round(rng.uniform(0, last), 2), None]
            ),
        }
        for _ in range(number)
    ]


def asks_for(demo: Built, number: int = 2500, seed: int = 8) -> list[dict[str, Any]]:
    return random_asks(demo.base | {"limits_top": demo.table["knots"][-1]}, number, seed)


def browser_answers(pack: dict[str, Any], folder: Path) -> list[dict[str, Any]]:
    """Run the tablet's own module over the questions, in deno."""
    deno = shutil.which("deno") or pytest.fail(
        "deno is not installed: pip install -e '.[test]'"
    )
    asked, answered, script = folder / "pack.json", folder / "answers.json", folder / "run.mjs"
    asked.write_text(json.dumps(pack), encoding="utf-8")
    module = MODULE.as_uri()
    script.write_text(RUNNER.format(module=module, pack=asked, out=answered), encoding="utf-8")
    allowed = [f"--allow-read={folder},{ROOT}", f"--allow-write={folder}"]
    command = [deno, "run", "--no-config", "--no-remote", "--quiet", *allowed, str(script)]
    done = subprocess.run(command, capture_output=True, text=True, timeout=120, check=False)
    assert done.returncode == 0, done.stderr
    return json.loads(answered.read_text(encoding="utf-8"))


def test_python_and_the_browser_agree_on_2500_random_questions(
    demo: Built, tmp_path: Path
) -> None:
    asks = asks_for(demo)
    here = [look_up(demo.base, demo.table, **ask) for ask in asks]
    there = browser_answers({"base": demo.base, "table": demo.table, "asks": asks}, tmp_path)
    for ask, one, other in zip(asks, here, there, strict=True):
        assert one == other, ask
    assert {answer["status"] for answer in here} == {0, 1, 2}
    assert sum(answer["status"] == 0 for answer in here) > 1000


def test_the_golden_file_holds_in_the_browser(tmp_path: Path) -> None:
    golden = json.loads((ROOT / "tests/golden/lookup.json").read_text(encoding="utf-8"))
    asks = [query["ask"] for query in golden["queries"]]
    pack = {"base": golden["base"], "table": golden["table"], "asks": asks}
    assert browser_answers(pack, tmp_path) == [query["answer"] for query in golden["queries"]]


def physics_cell(demo: Built, ask: dict[str, Any]) -> tuple[Any, tuple[int, ...]]:
    """Return the physics' own table and the cell a question is about."""
    number = ask["target"]
    for half in demo.computed.halves:
        if number < len(half.targets):
            return half.table, (number, ask["season"], ask["state"], ask["train"])
        number -= len(half.targets)
    raise AssertionError("no such target")


def test_advice_is_never_later_never_cheaper_than_the_physics(demo: Built) -> None:
    """Each whole-unit value of the calculation, rounded to the safe side by the table."""
    last = demo.table["knots"][-1]
    compared = 0
    for ask in asks_for(demo, 6000, 4):
        if ask["speed"] is None:
            continue
        units = max(int(np.ceil(ask["speed"])), 1)
        answer = look_up(demo.base, demo.table, **ask)
        if units > last:
            assert answer["status"] == 2 and answer["brake"] is None
            continue
        table, cell = physics_cell(demo, ask)
        assert answer["status"] >= table.status[cell][units - 1]
        if answer["status"] != 0:
            continue
        compared += 1
        assert answer["brake"] >= table.brake[cell][units - 1] - 1e-6
        assert answer["seconds"] >= table.seconds[cell][units - 1] - 1e-6
        cover = table.cover[cell][units - 1]
        if answer["cover"] == ALL_THE_WAY:
            assert np.isposinf(cover)
        elif np.isfinite(cover):
            assert answer["cover"] <= cover + 1e-6
    assert compared > 2000


def test_rounding_gives_little_away(demo: Built) -> None:
    """The table is safe, but not so safe that a driver would laugh at it."""
    extra = []
    for ask in asks_for(demo, 3000, 5):
        answer = look_up(demo.base, demo.table, **ask)
        if answer["status"] == 0 and (ask["speed"] or 0) > 20:
            table, cell = physics_cell(demo, ask)
            extra.append(answer["brake"] - table.brake[cell][int(np.ceil(ask["speed"])) - 1])
    assert np.median(extra) <= 15.0
    assert np.percentile(extra, 90) <= 60.0
