"""One list of what both sides must agree on; the tablet's copy is written out of it."""

from __future__ import annotations

from tests.golden import make_agreed


def test_the_tablets_copy_is_the_list() -> None:
    assert make_agreed.SCRIPT.read_text("utf-8") == make_agreed.script()


def test_every_constant_is_in_the_copy() -> None:
    for name in ("MARK", "PROTOCOL", "MOST_ITEMS", "CLOCK_WRONG_S", "LETTERS"):
        assert f"export const {name} = " in make_agreed.script()
