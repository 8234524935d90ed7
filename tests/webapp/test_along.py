"""A place along the line is written in one way, and what is written can be typed back."""

from __future__ import annotations

import json
import re
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from webapp.lines.posts import place_along, place_on_line, stretch_along
from webapp.packs.fields import Distance

ROOT = Path(__file__).parents[2]
PLACES = json.loads((ROOT / "tests/golden/places.json").read_text())["places"]


@pytest.mark.parametrize("row", PLACES, ids=lambda row: row["words"])
def test_a_place_is_written_as_on_the_tablet_and_read_in_either_language(row: dict) -> None:
    assert place_along(row["metres"], row["unit"]) == row["words"]
    assert place_along(row["metres"], row["unit"], about=True) == row["about"]
    for typed in (row["words"], row["words"].replace(".", ",")):
        assert place_on_line(typed, row["unit"]) == row["back"]


@given(st.floats(-20_000, 200_000), st.sampled_from(("mi-ch", "km")), st.booleans())
def test_what_is_printed_is_typed_back(metres: float, unit: str, about: bool) -> None:
    back = place_on_line(place_along(metres, unit, about=about), unit)
    nearest = (20.1168 / 2 if unit == "mi-ch" else 5.0) if about else 0.5
    assert back is not None and abs(back - metres) <= nearest + 0.01


@pytest.mark.parametrize(
    "row", [row for row in PLACES if row["metres"] > 0], ids=lambda row: row["words"]
)
def test_the_register_and_a_route_file_read_what_is_printed(row: dict) -> None:
    field = Distance(row["unit"])
    for typed in (row["words"], row["words"].replace(".", ",")):
        assert field.deserialize(typed) == row["back"]


@pytest.mark.parametrize(
    ("typed", "metres"),
    [("31m 20ch", 50292.0), ("31m20ch", 50292.0), ("31 m 20 ch", 50292.0), ("31m", 49889.66)],
)
def test_what_older_versions_wrote_is_still_read(typed: str, metres: float) -> None:
    assert place_on_line(typed, "mi-ch") == metres


@pytest.mark.parametrize("typed", ["31 mi 80 ch", "31 mi 20", "31 km", "31.2 mi", "", "ch"])
def test_what_is_no_place_on_a_mile_railway_is_not_read(typed: str) -> None:
    assert place_on_line(typed, "mi-ch") is None


def test_a_stretch_of_no_length_is_written_once() -> None:
    assert stretch_along(50302.06, 50292.0, "mi-ch") == "31 mi 20 ch to 31 mi 20.5 ch"
    assert stretch_along(50292.0, 50292.0, "mi-ch") == "31 mi 20 ch"


def test_nothing_else_writes_a_place() -> None:
    """Chains are put into words in two files only, and in no template."""
    writes = re.compile(r"""[}\]] ?ch\b(?! ?=)|\bm \$?\{\{?[^}]*chain""")
    found = {
        str(path.relative_to(ROOT))
        for folder in ("static", "webapp", "calc")
        for path in (ROOT / folder).rglob("*")
        if path.suffix in {".py", ".js", ".html", ".txt"}
        and writes.search(path.read_text("utf-8"))
    }
    assert found == {"static/core/format.js", "webapp/lines/posts.py"}
