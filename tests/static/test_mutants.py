"""Tests of the look-up and the card can fail: each small mistake in them is found.

Every operator and number of the module is turned in turn. What no test can find, because the
outcome is the same, is listed with its reason; an entry that no longer fits is a failure too.
"""

from __future__ import annotations

import shutil
from pathlib import Path

import pytest

from tests.static.test_core import HERE, deno
from tests.support.mutants import of_javascript

ROOT = HERE.parent.parent
FIRST_KNOT = "if (speed <= knots[0]) return [0, 0, knots[0]];"
SHORTEN = "if (long >= 0) return fitted(lines.with(long, "
SAME = {
    "table": [
        (FIRST_KNOT, "<=", "the first knot itself is found below as well"),
        (
            "if (required || name in table.columns)",
            "||",
            "every column that is answered is required now",
        ),
        (FIRST_KNOT, "0", "the speed is not used where both knots are one"),
    ],
    "card": [
        (SHORTEN, ">=", "the first line is the name, which has no shorter form"),
        (SHORTEN, "0", "the same"),
        ("if (at < 0 || ladder) return lines;", "<", "the first line has no speeds"),
        ("if (at < 0 || ladder) return lines;", "0", "the same"),
    ],
}


@pytest.mark.parametrize("module", sorted(SAME))
def test_every_small_mistake_is_found(module: str, tmp_path: Path) -> None:
    shutil.copytree(ROOT / "static", tmp_path / "static")
    shutil.copytree(HERE, tmp_path / "tests/static", ignore=shutil.ignore_patterns("*.py*"))
    shutil.copytree(HERE.parent / "golden", tmp_path / "tests/golden")
    scripts = sorted(
        str(path) for path in (tmp_path / "tests/static").glob(f"{module}*_test.js")
    )
    file = tmp_path / f"static/core/{module}.js"
    survived = []
    for mutant in of_javascript(file.read_text("utf-8")):
        file.write_text(mutant.text, "utf-8")
        if deno("test", "--no-check", "--no-remote", "--allow-read", *scripts).returncode == 0:
            survived.append(mutant)
    same = SAME[module]
    new = [
        one.name for one in survived if not any(_is(one.line, one.token, *it) for it in same)
    ]
    assert not new, f"no test of static/core/{module}.js fails for these; add one"
    stale = [it for it in same if not any(_is(one.line, one.token, *it) for one in survived)]
    assert not stale, "these are found now, or gone: take them out of SAME"


def _is(line: str, token: str, start: str, turned: str, _reason: str) -> bool:
    return line.startswith(start) and token == turned
