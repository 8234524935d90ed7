"""Reports as files: R88 (GeoJSON), R90 (CSV)."""

from __future__ import annotations

import csv
import io
import json
from collections.abc import Callable
from datetime import UTC, datetime
from typing import Any

import pytest
from flask import Flask
from hypothesis import given
from hypothesis import strategies as st

from tests.support.desk import desk_client
from tests.support.reports import CHANGE, batch, item
from tests.support.small_pack import small_pack
from webapp.publish import service as publisher
from webapp.records.reports import exports
from webapp.records.reports.body import WORDS_HAPPENED
from webapp.store.db import reading, writing

Send = Callable[..., list[dict[str, Any]]]
ANY = st.text(st.characters(exclude_categories=["Cs"], exclude_characters="\0"), max_size=30)
# Leading characters that a spreadsheet runs (OWASP, CSV injection), blanks before them.
RISKY = st.builds(
    lambda blank, sign, rest: blank + sign + rest,
    st.sampled_from(["", " ", "\u00a0", "\t", "\r\n", "ok\n", "'"]),
    st.sampled_from(list("=+-@\t\r\n'")),
    ANY,
)
WORDS = st.one_of(ANY, RISKY)
SAID = st.one_of(st.none(), WORDS.filter(bool))
NUMBER = st.one_of(st.none(), st.floats(-180, 180, allow_nan=False))
TRUTH = st.sampled_from([True, False])


def one_of_each() -> dict[str, st.SearchStrategy[Any]]:
    found = dict.fromkeys(exports.COLUMNS, SAID)
    found |= dict.fromkeys(exports.NUMBERS, NUMBER) | dict.fromkeys(exports.TRUTHS, TRUTH)
    found |= dict.fromkeys(exports.WHOLE, st.one_of(st.none(), st.integers(0, 10**9)))
    happened = st.lists(st.sampled_from(WORDS_HAPPENED), unique=True)
    return found | {"text": WORDS, "happened": happened}


@given(st.lists(st.fixed_dictionaries(one_of_each()), max_size=3))
def test_r90_our_own_file_reads_back_unchanged_and_nothing_in_it_runs(
    rows: list[dict[str, Any]],
) -> None:
    text = "".join(exports.as_csv([rows]))
    assert list(exports.read_csv(text)) == rows
    plain = list(csv.reader(io.StringIO(text, newline="")))
    assert plain[0] == list(exports.COLUMNS)
    for cells in plain[1:]:
        for name, cell in zip(exports.COLUMNS, cells, strict=True):
            if name not in exports.NUMBERS | exports.WHOLE:
                lines = cell.replace("\r\n", "\n").replace("\r", "\n").split("\n")
                assert not any(line.lstrip().startswith(tuple("=+-@")) for line in lines)


@pytest.fixture
def line(app: Flask, send: Send) -> Flask:
    with app.app_context(), writing() as session:
        publisher.publish(session, small_pack(), datetime.now(UTC))
    send(item(1, at_m=4000.0, target=None, driver_name="A Name", text="=1+1\nöst"))
    send(item(2, at_m=None, target=None, found="good"))
    send(item(3, at_m=None, target=None, position=None, route="other-line"))
    return app


def rows(app: Flask, asked: str = "") -> list[dict[str, Any]]:
    answer = desk_client(app, "look").get(f"/desk/reports.csv{asked}")
    assert answer.status_code == 200 and answer.is_streamed
    assert answer.content_type == "text/csv; charset=utf-8; header=present"
    return list(exports.read_csv(answer.data.decode()))


def test_r90_what_is_filtered_is_what_the_file_holds(line: Flask) -> None:
    found = rows(line)
    assert [one["number"] for one in found] == [1, 2, 3]
    first = found[0]
    assert (first["text"], first["happened"]) == ("=1+1\nöst", ["slide", "leaves"])
    assert first["observed_at"] == "2026-11-25T06:40:00.000000Z"
    # 4000 m are 198.84 chains of 20.1168 m (BS 350-1, from memory), and 80 are a mile.
    assert [one["along"] for one in found] == ["2 mi 38.84 ch", None, None]
    assert [one["number"] for one in rows(line, "?found=good")] == [2]
    assert rows(line, "?q=nothing+like+it") == []
    assert (
        "/desk/reports.csv?found=good"
        in desk_client(line, "look").get("/desk/reports?found=good").text
    )
    bad = desk_client(line, "look").get("/desk/reports.csv?found=fine")
    assert bad.status_code == 422 and "Send one of: good" in bad.get_json()["detail"]


def test_no_tablet_no_driver_and_nobody_of_the_desk_is_in_a_file(line: Flask) -> None:
    for name in ("csv", "geojson"):
        text = desk_client(line, "look").get(f"/desk/reports.{name}").text
        for secret in (
            "install",
            "device",
            "driver",
            "A Name",
            "tablet-",
            "look@",
            "0192f0c1-0000-4000",
        ):
            assert secret not in text


def test_r88_the_points_are_longitude_first(line: Flask) -> None:
    """The invented line runs along 20 west; swapped it would lie at 20 south."""
    answer = desk_client(line, "look").get("/desk/reports.geojson")
    assert answer.content_type == "application/geo+json" and answer.is_streamed
    found = json.loads(answer.data)
    assert found["type"] == "FeatureCollection"
    shapes = [one["geometry"] for one in found["features"]]
    assert shapes[0] == {"type": "Point", "coordinates": [-20, 44.036]}
    assert shapes[1] == {"type": "Point", "coordinates": [-2.5, 54.1]}, "where the tablet was"
    assert shapes[2] is None
    where = [one["properties"]["geometry_from"] for one in found["features"]]
    assert where == ["line", "tablet", None]
    assert [one["id"] for one in found["features"]] == [one["id"] for one in rows(line)]


def test_a_file_is_read_in_lots_and_none_is_skipped(lone_app: Flask) -> None:
    client = lone_app.test_client()
    client.get("/")
    client.post("/api/outbox", json=batch(*map(item, range(1, 8))), headers=CHANGE)
    with lone_app.app_context():
        for size in (1, 3, 7, 8):
            lots = list(exports.batches(reading, [], size))
            assert max(map(len, lots)) <= size
            assert sorted(one["number"] for lot in lots for one in lot) == list(range(1, 8))
