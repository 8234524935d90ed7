"""Run the tests of static/core, written in its own language, and hold it against Python."""

from __future__ import annotations

import json
import os
import random
import subprocess
import sys
from pathlib import Path

import pytest

from webapp.lines.lookup import look_up

HERE = Path(__file__).parent
GOLDEN = HERE.parent / "golden" / "lookup.json"
SCRIPTS = sorted(HERE.glob("*_test.js"))


def deno(*arguments: str) -> subprocess.CompletedProcess[str]:
    program = Path(sys.executable).with_name("deno")
    assert program.exists(), "no deno beside python: pip install -e '.[test]'"
    env = {**os.environ, "NO_COLOR": "1", "DENO_NO_UPDATE_CHECK": "1", "TZ": "Europe/London"}
    return subprocess.run(
        [str(program), *arguments], capture_output=True, text=True, timeout=60, env=env
    )


def test_there_are_scripts_to_run():
    assert len(SCRIPTS) >= 6


@pytest.mark.parametrize("script", SCRIPTS, ids=lambda path: path.stem)
def test_core(script: Path):
    run = deno("test", "--no-check", "--no-remote", "--allow-read", str(script))
    assert run.returncode == 0, run.stdout + run.stderr
    assert "0 failed" in run.stdout and " 0 passed" not in run.stdout


def test_browser_and_python_look_up_the_same(tmp_path: Path):
    pack = json.loads(GOLDEN.read_text("utf-8"))
    base, table = pack["base"], pack["table"]
    rng = random.Random(2026)
    cases = []
    for _ in range(2_500):
        ask = {
            "target": rng.randrange(len(base["targets"])),
            "train": rng.randrange(len(base["trains"])),
            "state": rng.randrange(len(base["states"])),
            "season": rng.randrange(2),
            "speed": rng.choice([rng.randrange(0, 66), round(rng.uniform(0, 62), 3)]),
        }
        cases.append({"ask": ask, "answer": look_up(base, table, **ask)})
    file = tmp_path / "cases.json"
    file.write_text(json.dumps({"base": base, "table": table, "queries": cases}), "utf-8")
    run = deno("run", "--no-check", "--allow-read", str(HERE / "compare_lookup.js"), str(file))
    assert run.returncode == 0, run.stdout + run.stderr
    assert run.stdout.strip() == "2500 equal"
