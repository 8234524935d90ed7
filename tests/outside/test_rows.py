"""The rows themselves: each names its source, and a wrong figure is found out."""

from __future__ import annotations

import pytest

from .row import STATUSES, Row, Source, all_rows


def test_every_row_names_its_source_and_says_why():
    rows = all_rows()
    assert len(rows) >= 70
    for row in rows:
        assert row.source.title and row.source.address and row.why
        assert row.status in STATUSES
        seen = row.source.address.startswith("https://")
        assert seen or row.status in ("FROM MEMORY", "DERIVED"), row.what
    assert len({(row.source, row.what) for row in rows}) == len(rows)


def test_a_figure_outside_the_band_fails_in_words():
    source = Source("a text", "https://example.org", "CONFIRMED")
    row = Row("a length", source, "CONFIRMED", (1.0, 2.0), lambda: 2.2, 0.1, "m", "one digit")
    with pytest.raises(AssertionError, match=r"a length: ours 2.2 m, theirs \(1.0, 2.0\) m"):
        row.hold()
