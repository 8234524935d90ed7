"""Dry brake tests from a file: what is read, what is not, and what it proposes."""

from __future__ import annotations

from itertools import chain

import numpy as np
import pytest
from click.testing import CliRunner

from webapp.commands.cli import cli
from webapp.packs.read import read_route
from webapp.packs.service import demo_routes
from webapp.recorder.columns import picked, pressures, read_mapping
from webapp.recorder.service import TraceFaults
from webapp.recorder.steps import CannotSay, find, lines

G = 9.80665
HEAD = "time,speed_kmh,step,wsp"


def rows(rate=0.06 * G, wait=1.0, speed=100.0, wsp=0, step=2, grade=0.0) -> list[str]:
    """A stop at 2 Hz from 12 s on; ``wait`` is dead time and half the rise."""
    out = []
    for half in range(int(2 * (20 + speed / 3.6 / (rate + G * grade)))):
        time = half / 2 + 0.25
        since = time - 12.0
        lost = rate * max(since - wait, 0.0) + G * grade * max(since, 0.0)
        now = max(speed - 3.6 * lost, 0.0)
        held, slid = step * (since >= 0), wsp * (since > 3)
        out.append(f"{25_200 + time},{now:.2f},{held},{slid}")
    return out


def file(*parts: list[str], head: str = HEAD) -> bytes:
    return "\n".join([head, *chain.from_iterable(parts)]).encode()


@pytest.fixture(scope="module")
def route():
    return read_route(demo_routes()["kettle-bay"])


def level(route):
    """A place from which a stop stays on one gradient, that gradient, and the direction."""
    stretch = max(route.gradients, key=lambda one: one.end - one.start)
    assert stretch.end - stretch.start > 1_000
    miles, chains = divmod((stretch.start + 200.0) / 20.1168, 80)
    rising = next(one for one in route.directions if one.sign > 0)
    return f"{int(miles)} mi {chains:.1f} ch", stretch.ratio, rising.key


def found(route, data, **more):
    place, _, direction = level(route)
    return find(data, "test.csv", route, "disc-4", direction, more.pop("start", place), **more)


def test_a_weak_step_is_told_with_what_to_plan_with(route):
    grade = level(route)[1]
    data = file(rows(0.93 * 0.06 * G, grade=grade))
    (figures,) = found(route, data).figures
    assert figures.share.mean == pytest.approx(0.93, abs=0.02)
    said = "\n".join(lines(found(route, data)))
    assert "step 2, 1 test: 0.9" in said and "plan with 0.8" in said
    assert "rates = [[0.0, 5." in said or "rates = [[0, 5." in said
    assert "source: 1 dry brake test" in said


def test_a_step_as_planned_fits(route):
    grade = level(route)[1]
    said = lines(found(route, file(rows(grade=grade))))
    assert any(line.endswith("fits") and line.startswith("step 2") for line in said)
    assert said[-1] == "Nothing to change in trains.toml."


def test_a_slow_build_up_is_told(route):
    grade = level(route)[1]
    said = lines(found(route, file(rows(wait=3.0, grade=grade))))
    assert any("longer than planned with" in line for line in said)
    assert any(line.startswith("dead_time_s = ") for line in said)


def test_a_stop_with_wheel_slide_protection_is_no_dry_test(route):
    result = found(route, file(rows(wsp=1)))
    assert result.tests == () and "not dry" in result.left[0].why
    assert any("left out at 07:00:12" in line for line in lines(result))


def test_driver_unit_and_date_are_not_read(route):
    plain = [f"{row},A. Nyone,3107,2026-11-30" for row in rows()]
    data = file(plain, head=f"{HEAD},driver,unit,date")
    chosen = picked(data, "test.csv")
    assert b"Nyone" not in chosen.data and b"3107" not in chosen.data
    assert chosen.notes == ("3 other columns were not read.",)
    assert len(found(route, data).tests) == 1


def test_columns_are_mapped_once(route, tmp_path):
    mapping = tmp_path / "columns.toml"
    mapping.write_text(
        '[columns]\ntime = "Clock"\nspeed_kmh = "V"\nstep = "Handle"\nwsp = "Slide"\n'
        'pressure = "Bar"\nwheels = ["V1", "V2"]\n'
    )
    named = read_mapping(mapping)
    with_more = [f"{row},3.5,{row.split(',')[1]},{row.split(',')[1]}" for row in rows()]
    data = file(with_more, head="Clock,V,Handle,Slide,Bar,V1,V2")
    result = found(route, data, mapping=named)
    assert len(result.tests) == 1
    with pytest.raises(TraceFaults, match="row 1, column Clock: the column of 'time' is not"):
        found(route, file(rows()), mapping=named)


def test_wheelsets_apart_are_a_slide_and_the_fastest_is_the_train(route):
    apart = []
    for row in rows():
        speed = float(row.split(",")[1])
        slow = speed * (0.8 if speed < 80 else 1.0)
        apart.append(f"{row},{slow:.2f},{speed:.2f}")
    data = file(apart, head=f"{HEAD},v1,v2")
    named = {one: [one] for one in HEAD.split(",")} | {"wheels": ["v1", "v2"]}
    assert "not dry" in found(route, data, mapping=named).left[0].why


def test_pressure_is_kept_by_time_and_dropped_where_a_clock_was_put_back():
    cells = ["1,50,0,0,0.1", "2,50,0,0,0.2", "3,50,0,0,0.3", "2,50,0,0,9"]
    data = file(cells, head=f"{HEAD},pressure")
    bar = pressures(picked(data, "x.csv"), np.array([1.0, 2.0, 3.0]))
    assert bar[[0, 2]].tolist() == [0.1, 0.3] and np.isnan(bar[1])


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("", "the table is missing"),
        ("[columns]\n", "the table is missing"),
        ("[columns\n", "no TOML"),
        ('[columns]\ndriver = "Name"\n', "column driver: the column is not known"),
        ("[columns]\ntime = 3\n", "column time: the name of a column is missing"),
        ('[columns]\ntime = ["a", "b"]\n', "column time: the name of a column is missing"),
    ],
)
def test_a_mapping_that_says_nothing_is_refused_with_a_cure(tmp_path, text, words):
    (tmp_path / "columns.toml").write_text(text)
    with pytest.raises(TraceFaults, match=words) as refused:
        read_mapping(tmp_path / "columns.toml")
    assert "Cure: " in str(refused.value)


def test_what_is_not_told_is_asked_for(route):
    data = file(rows())
    with pytest.raises(CannotSay, match="no train 'tram': one of disc-4"):
        find(data, "x.csv", route, "tram", "down", "30 mi 0 ch")
    with pytest.raises(CannotSay, match="no direction 'north': one of down, up"):
        find(data, "x.csv", route, "disc-4", "north", "30 mi 0 ch")
    with pytest.raises(CannotSay, match="say with --start"):
        found(route, data, start=None)
    with pytest.raises(CannotSay, match="no place on this line: write miles and chains"):
        found(route, data, start="over there")


def test_command_prints_and_keeps_nothing(route, tmp_path):
    place, grade, direction = level(route)
    (tmp_path / "tests.csv").write_bytes(file(rows(grade=grade)))
    ask = ["recorder", str(tmp_path / "tests.csv"), "--train", "disc-4"]
    ask += ["--route", "kettle-bay", "--direction", direction, "--start", place]
    run = CliRunner().invoke(cli, ask)
    assert run.exit_code == 0, run.output
    assert "1 dry brake test read" in run.output
    assert [one.name for one in tmp_path.iterdir()] == ["tests.csv"]
    (tmp_path / "tests.csv").write_bytes(b"time,step\n")
    run = CliRunner().invoke(cli, ask)
    assert run.exit_code != 0 and "tests.csv, row 1, column speed" in run.output
