"""A recorder's file: read whole, or refused with row, column and cure."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tests.calc import cases
from webapp.recorder.service import TraceFaults, grip, read_trace

HEAD = "time,speed_kmh,step,wsp"


def file(*rows: str, head: str = HEAD) -> bytes:
    return "\n".join([head, *rows]).encode()


def stop(begin: int = 0, clock: bool = True) -> list[str]:
    """12 s at 90 km/h, then 1.8 km/h less each second in step 2 with WSP at work."""
    rows = []
    for second in range(62):
        speed = 90.0 - 1.8 * max(second - 12, 0)
        at = (begin + second) % 86_400
        shown = f"{at // 3600:02}:{at // 60 % 60:02}:{at % 60:02}" if clock else str(at)
        rows.append(f"{shown},{speed:.1f},{2 if second >= 12 else 0},{int(second >= 12)}")
    return rows


def the_grip(data: bytes, **options):
    train = cases.train((0.8, 0.9))
    return grip(read_trace(data), train, cases.line(), **options)


@pytest.mark.parametrize("begin", [0, 8 * 3600, 86_400 - 30])
def test_a_stop_is_read_whatever_the_hour(begin):
    reading = read_trace(file(*stop(begin)))
    (trace,) = reading.parts
    assert reading.notes == ()
    assert np.diff(trace.time) == pytest.approx(1.0)
    assert trace.speed[0] == pytest.approx(25.0)
    (slide,) = the_grip(file(*stop(begin))).slides
    assert slide.low <= 0.5 / 9.80665 <= slide.high


def test_units_seconds_byte_order_mark_and_column_order():
    rows = ["1,0,44.704,10", "0,2,44.704,11.5", "yes,emergency,22.352,12", ""]
    data = b"\xef\xbb\xbf" + file(*rows, head="WSP, step ,speed_mph,time")
    (trace,) = read_trace(data).parts
    assert trace.time.tolist() == [10, 11.5, 12]
    assert trace.speed[0] == pytest.approx(44.704 * 0.44704)
    assert trace.wsp.tolist() == [True, False, True]
    assert trace.step.tolist() == [0, 2, 99]
    assert np.isnan(trace.place).all()


def test_a_dropout_is_left_out_and_said():
    rows = stop()
    rows[20] = rows[20].split(",")[0] + ",,2,1"
    reading = read_trace(file(*rows))
    assert reading.parts[0].time.size == 61
    assert reading.notes == ("1 rows without a speed were left out.",)


def test_a_clock_put_back_begins_a_new_part():
    data = file(*stop(7200), *stop(3600))
    reading = read_trace(data)
    assert [part.time.size for part in reading.parts] == [62, 62]
    assert reading.notes == ("The clock was put back at row 64: read apart.",)
    assert len(the_grip(data).slides) == 1  # the second part has no place
    placed = [f"{row},{25 * k}" for k, row in enumerate([*stop(7200), *stop(3600)])]
    assert len(the_grip(file(*placed, head=f"{HEAD},at_m")).slides) == 2


@pytest.mark.parametrize(
    ("rows", "words"),
    [
        (["0,fast,0,0"], "row 2, column speed_kmh: 'fast' is not a number. Cure:"),
        (["0,nan,0,0"], "row 2, column speed_kmh: nan is outside"),
        (["0,-3,0,0"], "row 2, column speed_kmh: -3 is outside"),
        (["0,9000,0,0"], "row 2, column speed_kmh: 9000 is outside"),
        (['0,"81,5",0,0'], "row 2, column speed_kmh: '81,5' is not a number"),
        (["0,81,5,0,0"], "row 2: 5 cells where 4 belong"),
        (["soon,80,0,0"], "row 2, column time: 'soon' is not a number"),
        (["25:00:00,80,0,0"], "row 2, column time: '25:00:00' is not a time"),
        (["7:61:00,80,0,0"], "row 2, column time: '7:61:00' is not a time"),
        ([",80,0,0"], "row 2, column time: the cell is empty"),
        (["0,80,half,0"], "row 2, column step: 'half' is not a brake step"),
        (["0,80,-1,0"], "row 2, column step: '-1' is not a brake step"),
        (["0,80,0,maybe"], "row 2, column wsp: 'maybe' is neither on nor off"),
        (["0,80,0,0", "1,80,0,0"], "fewer than three rows"),
        (["0,80,0,0", "1,80,0,0", "1,80,0,0", "2,80,0,0"], "row 4, column time: the time is"),
        (["5,80,0,0", "1,80,0,0", "2,80,0,0", "3,80,0,0"], "row 3, column time: rows are out"),
        ([*stop(), "00:00:01,80,0,0"], "row 64, column time: rows are out of order"),
    ],
)
def test_what_cannot_be_read_is_named_by_row_and_column(rows, words):
    with pytest.raises(TraceFaults) as refused:
        read_trace(file(*rows), "stop.csv")
    assert f"stop.csv, {words}" in str(refused.value) or words in str(refused.value)
    assert "Cure: " in str(refused.value)


def test_every_fault_is_told_at_once():
    with pytest.raises(TraceFaults) as refused:
        read_trace(file("0,a,0,0", "1,80,b,0", "2,80,0,c"))
    assert [(f.row, f.column) for f in refused.value.faults] == [
        (2, "speed_kmh"),
        (3, "step"),
        (4, "wsp"),
    ]


@pytest.mark.parametrize(
    ("head", "words"),
    [
        ("time,step,wsp", "0 columns of speed"),
        ("time,speed_kmh,speed_mph,step,wsp", "2 columns of speed"),
        ("time,speed_kmh,step", "column wsp: the column is missing"),
        ("time,speed_kmh,step,wsp,colour", "column colour: the column is not known"),
        ("time,time,speed_kmh,step,wsp", "column time: the column is there twice"),
        ("", "column time: the column is missing"),
    ],
)
def test_a_head_that_cannot_be_read_is_refused(head, words):
    with pytest.raises(TraceFaults, match=words):
        read_trace(file("0,80,0,0", head=head))


def test_a_place_that_goes_back_is_refused():
    rows = [f"{k},80,0,0,{1000 - 20 * k}" for k in range(9)]
    with pytest.raises(TraceFaults, match="row 5, column at_m: the place goes back"):
        read_trace(file(*rows, head=f"{HEAD},at_m"))


@pytest.mark.parametrize("data", [b"\xff\xfe\x00t", b"time\x00", b""])
def test_no_text_is_refused(data):
    with pytest.raises(TraceFaults):
        read_trace(data)


CELLS = st.sampled_from(
    ["", "0", "1", "2", "80", "-1", "nan", "inf", "1e400", "emergency", "07:00:01", "x", '"']
)


@settings(max_examples=150, deadline=None)
@given(st.lists(st.lists(CELLS, min_size=3, max_size=5), max_size=8))
def test_anything_is_read_or_refused_in_words(rows):
    """Never another error, and never a figure that is none."""
    try:
        reading = read_trace(file(*[",".join(row) for row in rows]))
    except TraceFaults as refused:
        assert "Cure: " in str(refused)
        return
    for part in reading.parts:
        assert all(math.isfinite(v) for v in [*part.time, *part.speed])
        assert (np.diff(part.time) > 0).all()
