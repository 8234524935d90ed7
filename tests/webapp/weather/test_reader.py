"""A file of observations: what is read, and every fault by row and column."""

from __future__ import annotations

from datetime import UTC, datetime

import pytest

from webapp.records.weather.faults import WeatherFaults
from webapp.records.weather.reader import read_observations

HEAD = "time,air_c,humidity_percent,rain_mm,wind_mps,cloud_oktas,weather\n"
ROW = "2026-10-25T05:00Z,8.5,93,0.2,1.5,8,drizzle\n"


def read(text, file="weather.csv"):
    return read_observations(text.encode(), file)


def faults(text):
    with pytest.raises(WeatherFaults) as caught:
        read(text)
    return str(caught.value)


def test_a_row_becomes_an_hour_in_our_units():
    (row,) = read(HEAD + ROW)
    assert row.time == datetime(2026, 10, 25, 5, tzinfo=UTC)
    assert (row.hour.air, row.hour.humidity, row.hour.cloud) == (8.5, 0.93, 1.0)
    assert row.hour.rain == 0.2 and row.hour.word == "drizzle"


def test_an_empty_cell_and_a_left_out_column_are_unknown_and_not_nought():
    (row,) = read("rain_mm,time\n,2026-10-25T05:00Z\n")
    assert row.hour.rain is None and row.hour.air is None and row.hour.word is None


def test_a_zone_of_its_own_is_turned_into_utc_and_a_byte_mark_is_no_fault():
    (row,) = read("\ufefftime\n2026-10-25T01:00+01:00\n")
    assert row.time == datetime(2026, 10, 25, 0, tzinfo=UTC)


@pytest.mark.parametrize(
    ("row", "said"),
    [
        ("2026-10-25T05:00Z,warm,93,0,1,8,", "row 2, column air_c: 'warm' is not a number"),
        ("2026-10-25T05:00Z,8,930,0,1,8,", "column humidity_percent: 930 is not believed"),
        ("2026-10-25T05:00Z,8,93,-1,1,8,", "column rain_mm: -1 is not believed"),
        ("2026-10-25T05:00Z,nan,93,0,1,8,", "column air_c: 'nan' is not a number"),
        ("2026-10-25T05:00Z,8,93,1e3,1,8,", "column rain_mm: '1e3' is not a number"),
        ("2026-10-25T05:00Z,8,93,0,1,9,", "column cloud_oktas: 9 is not believed"),
        ("2026-10-25T05:00Z,8,93,0,1,8,sleet", "column weather: 'sleet' is not known here"),
        ("25.10.2026,8,93,0,1,8,", "column time: '25.10.2026' is not a time"),
        ("2026-10-25T05:00,8,93,0,1,8,", "names no offset from UTC"),
        ("2026-10-25T05:30Z,8,93,0,1,8,", "is not a whole hour"),
        ("2026-10-25T05:00Z,8,93,0,1", "the row has 5 cells, the heading has 7"),
        (",8,93,0,1,8,", "row 2, column time"),
    ],
)
def test_each_fault_names_row_column_and_cure(row, said):
    message = faults(HEAD + row + "\n")
    assert said in message and "Cure: " in message and "weather.csv, row 2" in message


def test_a_dew_point_above_the_air_names_the_cells():
    message = faults("time,air_c,dew_point_c\n2026-10-25T05:00Z,8,9\n")
    assert "row 2, column dew_point_c" in message and "air_c" in message


def test_all_faults_come_at_once_and_nothing_is_taken():
    bad = "2026-10-25T06:00Z,x,93,y,1,8,\n"
    message = faults(HEAD + ROW + bad)
    assert "row 3, column air_c" in message and "row 3, column rain_mm" in message


@pytest.mark.parametrize(
    ("second", "said"),
    [("2026-10-25T05:00Z", "stands twice"), ("2026-10-25T04:00Z", "is before the row above")],
)
def test_hours_must_rise(second, said):
    message = faults(f"time\n2026-10-25T05:00Z\n{second}\n")
    assert "row 3, column time" in message and said in message


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("", "row 1: it is empty"),
        ("air_c\n8\n", "the column 'time' is missing"),
        (
            "time,fog\n2026-10-25T05:00Z,1\n",
            "row 1, column fog: the column 'fog' is not known",
        ),
        ("time,air_c,air_c\n2026-10-25T05:00Z,1,1\n", "stands twice"),
        ("time\n", "there is no row under the heading"),
        ('time\n"2026', "it is not CSV"),
    ],
)
def test_a_file_that_is_none_says_why(text, said):
    assert said in faults(text)


def test_bytes_that_are_no_text_and_a_giant_are_refused():
    for content, said in ((b"time\n\xff\xfe", "UTF-8"), (b"x" * 2_000_001, "too large")):
        with pytest.raises(WeatherFaults, match=said):
            read_observations(content, "w.csv")
