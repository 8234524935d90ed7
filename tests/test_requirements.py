"""The table of requirements in REQUIREMENTS.md names tests that exist, and leaves none out."""

from __future__ import annotations

import re

from tests import requirements


def table() -> str:
    text = (requirements.ROOT / "tests/REQUIREMENTS.md").read_text()
    return text.split(requirements.BEGIN)[1].split(requirements.END)[0]


def test_every_requirement_has_a_row_with_a_test_or_a_reason():
    rows = dict(re.findall(r"^\| R(\w+) \|(.*)$", table(), re.M))
    assert list(rows) == list(requirements.WHAT)
    assert [number for number, row in rows.items() if "NOT SHOWN" in row] == []


def test_every_test_the_table_names_is_there():
    named = re.findall(r"`([\w/]+\.(?:py|js))(?:::(\w+))?`", table())
    assert len(named) > 80
    for file, test in named:
        source = (requirements.ROOT / file).read_text()
        assert not test or f"def {test}(" in source, f"{file}::{test}"


def test_a_requirement_without_a_test_would_be_seen():
    assert "NOT SHOWN" in requirements.row("999", "nothing shows this", [])
