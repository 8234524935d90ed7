"""Forty planted faults, each with its place, its words and a cure; and files that are noise.

The faults are those that weather files have in practice (common practice, no source).
"""

from __future__ import annotations

import json
import random
from typing import Any
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from webapp.records.weather.columns import UNITS, Column, Columns, mapping_of
from webapp.records.weather.faults import WeatherFaults
from webapp.records.weather.hourly import LONGEST, read_hourly
from webapp.records.weather.reader import LARGEST, headings_of, read_observations

HEAD = "time,air_c,humidity_percent,dew_point_c,rain_mm,wind_mps,cloud_oktas,weather"
FIRST, SECOND = "2026-11-25T05:00Z", "2026-11-25T06:00Z"
LONDON = ZoneInfo("Europe/London")


def csv(cells: str, time: str = SECOND, head: str = HEAD) -> bytes:
    """A good row, then one with these cells."""
    return f"{head}\n{FIRST},8,93,,0,1,8,\n{time},{cells}\n".encode()


CSV_FAULTS = {
    "a word for a figure": (csv("warm,93,,0,1,8,"), "row 3, column air_c: 'warm' is not a"),
    "a decimal comma": (csv('"8,5",93,,0,1,8,'), "column air_c: '8,5' is not a number"),
    "a thousands sign": (csv('"1 008",93,,0,1,8,'), "column air_c: '1 008' is not a"),
    "a unit in the cell": (csv("8 C,93,,0,1,8,"), "column air_c: '8 C' is not a number"),
    "not a number": (csv("nan,93,,0,1,8,"), "column air_c: 'nan' is not a number"),
    "infinity": (csv("inf,93,,0,1,8,"), "column air_c: 'inf' is not a number"),
    "an exponent": (csv("8e0,93,,0,1,8,"), "column air_c: '8e0' is not a number"),
    "other digits": (csv("\u0668x,93,,0,1,8,"), "column air_c"),
    "a sentinel": (csv("-999,93,,0,1,8,"), "column air_c: -999 is not believed"),
    "kelvin": (csv("281,93,,0,1,8,"), "column air_c: 281 is not believed"),
    "humidity above all": (csv("8,101,,0,1,8,"), "humidity_percent: 101 is not believed"),
    "humidity as a share": (csv("8,0.93,,0,1,8,"), "humidity_percent: 0.93 is not believed"),
    "a dew point above the air": (csv("8,93,9,0,1,8,"), "column dew_point_c: dew point 9"),
    "rain below nothing": (csv("8,93,,-0.1,1,8,"), "column rain_mm: -0.1 is not believed"),
    "rain of a year": (csv("8,93,,900,1,8,"), "column rain_mm: 900 is not believed"),
    "a trace as a letter": (csv("8,93,,T,1,8,"), "column rain_mm: 'T' is not a number"),
    "wind in km/h": (csv("8,93,,0,80,8,"), "column wind_mps: 80 is not believed"),
    "wind from a side": (csv("8,93,,0,SW 5,8,"), "column wind_mps: 'SW 5' is not a number"),
    "cloud in per cent": (csv("8,93,,0,1,75,"), "column cloud_oktas: 75 is not believed"),
    "a word not known": (csv("8,93,,0,1,8,hail"), "column weather: 'hail' is not known here"),
    "no offset": (csv("8,93,,0,1,8,", "2026-11-25T06:00"), "names no offset from UTC"),
    "half an hour": (csv("8,93,,0,1,8,", "2026-11-25T06:30Z"), "is not a whole hour"),
    "a day that is none": (csv("8,93,,0,1,8,", "2026-11-31T06:00Z"), "is not a time"),
    "day first": (csv("8,93,,0,1,8,", "25/11/2026 06:00"), "is not a time"),
    "no time": (csv("8,93,,0,1,8,", ""), "row 3, column time"),
    "the same hour twice": (csv("8,93,,0,1,8,", FIRST), "2026-11-25T05:00Z stands twice"),
    "backwards": (csv("8,93,,0,1,8,", "2026-11-25T04:00Z"), "is before the row above"),
    "a cell too few": (csv("8,93,,0,1,8"), "the row has 7 cells, the heading has 8"),
    "a cell too many": (csv("8,93,,0,1,8,,"), "the row has 9 cells, the heading has 8"),
    "no time column": (b"air_c\n8\n", "row 1, column time: the column 'time' is missing"),
    "a column twice": (b"time,air_c,air_c\n", "column air_c: the column stands twice"),
    "an unknown column": (b"time,luft\n", "column luft: the column 'luft' is not known"),
    "a heading alone": (b"time,air_c\n", "there is no row under the heading"),
    "nothing": (b"", "it is empty"),
    "another encoding": ("time,air_c\nÄ,8\n".encode("utf-16"), "it is not UTF-8"),
    "an open quote": (b'time,air_c\n"2026,8\n', "it is not CSV"),
    "too large": (b"x" * (LARGEST + 1), "it is too large"),
}


def body(**changed: Any) -> dict[str, Any]:
    hourly = {"time": ["2026-11-25T05:00", "2026-11-25T06:00"], "temperature_2m": [8.0, 8.5]}
    units = {"temperature_2m": "°C", "precipitation": "mm"}
    whole = {"utc_offset_seconds": 0, "hourly_units": units, "hourly": hourly}
    return {**whole, **changed}


def hourly(**arrays: Any) -> dict[str, Any]:
    return body(hourly={**body()["hourly"], **arrays})


JSON_FAULTS = {
    "cut off": (json.dumps(body()).encode()[:-9], "it is not JSON in UTF-8, or cut off"),
    "no hours": (b"{}", 'it has no "hourly" with a list "time"'),
    "an array too short": (hourly(temperature_2m=[8.0]), "1 values stand beside 2 times"),
    "no array": (hourly(temperature_2m=8.0), "no list of values stand beside 2 times"),
    "no unit": (body(hourly_units={}), "the unit 'None' in hourly_units is not known"),
    "another unit": (hourly(precipitation=[0, 0]) | {"hourly_units": {"precipitation": "ft"}},
                     "the unit 'ft' in hourly_units is not known"),
    "no clock": (body(utc_offset_seconds=None), "utc_offset_seconds is missing"),
    "a clock of days": (body(utc_offset_seconds=10**6), "utc_offset_seconds is missing"),
    "a word for a figure": (hourly(temperature_2m=["warm", 8]), "row 1, column temperature"),
    "a truth for a figure": (hourly(temperature_2m=[True, 8]), "'True' is not a number"),
    "a figure that cannot be": (hourly(temperature_2m=[8, 99]), "99 is not believed"),
    "no times": (hourly(time=[], temperature_2m=[]), "it has 0 hours"),
    "too many": (hourly(time=[0] * (LONGEST + 1)), f"it has {LONGEST + 1} hours"),
    "backwards": (hourly(time=["2026-11-25T06:00", "2026-11-25T05:00"]), "is before the row"),
    "nothing we read": (body(hourly={"time": ["2026-11-25T06:00"]}), "nothing in it is read"),
}  # fmt: skip


def faults_of_csv(content: bytes, columns: Columns | None = None) -> str:
    with pytest.raises(WeatherFaults) as caught:
        read_observations(content, "hours.csv", columns, LONDON)
    return str(caught.value)


def test_there_are_forty_and_more() -> None:
    assert len(CSV_FAULTS) + len(JSON_FAULTS) >= 40


@pytest.mark.parametrize("name", CSV_FAULTS)
def test_a_planted_fault_of_a_csv_is_said_once_with_its_cure(name: str) -> None:
    content, said = CSV_FAULTS[name]
    found = faults_of_csv(content)
    assert said in found and ". Cure: " in found and found.startswith("hours.csv, ")
    assert len(found.split("\n")) == 1, found


@pytest.mark.parametrize("name", JSON_FAULTS)
def test_a_planted_fault_of_an_answer_is_said_with_its_cure(name: str) -> None:
    content, said = JSON_FAULTS[name]
    raw = content if isinstance(content, bytes) else json.dumps(content).encode()
    with pytest.raises(WeatherFaults) as caught:
        read_hourly(raw, "answer.json")
    found = str(caught.value)
    assert said in found and ". Cure: " in found and found.startswith("answer.json, ")


def clocked(*times: str, clock: str = "line") -> bytes | str:
    columns = Columns({"time": Column("when", clock)})
    content = "\n".join(["when", *times]).encode()
    rows = read_observations(content, "f", columns, LONDON)
    return " ".join(f"{row.time:%d %H}" for row in rows)


def test_the_hour_that_the_clock_shows_twice_in_autumn_is_two_hours() -> None:
    # 25 October 2026, 02:00 BST back to 01:00 GMT (the UK's rule: last Sunday of October).
    times = [f"2026-10-25 {hour}:00" for hour in ("00", "01", "01", "02")]
    assert clocked(*times) == "24 23 25 00 25 01 25 02"


def test_the_hour_that_never_was_in_spring_is_a_fault() -> None:
    columns = Columns({"time": Column("when", "line")})
    found = faults_of_csv(b"when\n2026-03-29 01:00\n", columns)
    assert "row 2, column when: the clock went forward past '2026-03-29 01:00'" in found


@pytest.mark.parametrize(
    ("name", "unit", "text", "ours"),
    [
        # By the definitions of the units: 0 degC is 273.15 K and 32 degF, 1 in 25.4 mm.
        ("air_c", "K", "273.15", 0.0),
        ("air_c", "degF", "212", 100.0),
        ("rain_mm", "in", "1", 25.4),
        ("wind_mps", "km/h", "36", 10.0),
        ("wind_mps", "kn", "36", 18.52),
        ("wind_mps", "mph", "100", 44.704),
        ("cloud_oktas", "percent", "50", 4.0),
        ("cloud_oktas", "tenths", "10", 8.0),
        ("humidity_percent", "share", "0.5", 50.0),
    ],
)
def test_a_unit_is_turned_into_ours(name: str, unit: str, text: str, ours: float) -> None:
    _, scale, offset = UNITS[name][unit]
    assert float(text) * scale + offset == pytest.approx(ours, abs=1e-9)


@settings(max_examples=300, deadline=None)
@given(st.binary(max_size=300))
def test_noise_never_crashes(content: bytes) -> None:
    headings_of(content)
    for read in (lambda: read_observations(content, "f"), lambda: read_hourly(content, "f")):
        try:
            read()
        except WeatherFaults as found:
            assert found.faults


@settings(max_examples=300, deadline=None)
@given(st.integers(0, 2**32))
def test_a_good_file_with_bytes_changed_never_crashes(seed: int) -> None:
    rng = random.Random(seed)
    good = rng.choice([csv("8,93,,0,1,8,rain"), json.dumps(body()).encode()])
    content = bytearray(good)
    for _ in range(rng.randint(1, 6)):
        content[rng.randrange(len(content))] = rng.randrange(256)
    mapped = mapping_of({"time": {"heading": "time", "unit": "line"},
                         "air_c": {"heading": "air_c", "unit": "degF"}})  # fmt: skip
    for read in (
        lambda: read_observations(bytes(content), "f"),
        lambda: read_observations(bytes(content), "f", mapped, LONDON),
        lambda: read_hourly(bytes(content), "f"),
    ):
        try:
            read()
        except WeatherFaults as found:
            assert found.faults


JSON = st.recursive(
    st.none() | st.booleans() | st.integers() | st.floats() | st.text(max_size=20),
    lambda inner: (
        st.lists(inner, max_size=4) | st.dictionaries(st.text(max_size=8), inner, max_size=4)
    ),
    max_leaves=12,
)  # fmt: skip


@settings(max_examples=300, deadline=None)
@given(JSON, JSON, JSON, JSON)
def test_an_answer_of_anything_never_crashes(
    one: Any, other: Any, third: Any, fourth: Any
) -> None:
    hours = {"time": one, "temperature_2m": other, "weather_code": fourth}
    whole = {"hourly": hours, "hourly_units": {"temperature_2m": "°C"}, "latitude": other}
    whole |= {"utc_offset_seconds": third, "longitude": fourth}
    for content in (whole, one):
        try:
            read_hourly(json.dumps(content).encode(), "f")
        except WeatherFaults as found:
            assert found.faults
