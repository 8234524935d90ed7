"""From typed values or a file to a suggestion for one of our own lines."""

from __future__ import annotations

from datetime import UTC, datetime
from zoneinfo import ZoneInfo

import pytest

from webapp.lines.base import State
from webapp.packs.read import read_route
from webapp.packs.service import demo_routes
from webapp.records.weather.faults import WeatherFaults
from webapp.records.weather.held import typed_over
from webapp.records.weather.reader import HOUR, Observed, read_observations
from webapp.records.weather.service import (
    Where,
    chain_of,
    place_at,
    suggest_from_file,
)
from webapp.records.weather.take_in import hour_typed

LONDON = Where(ZoneInfo("Europe/London"), 53.0, leafy=False)
MORNING = datetime(2026, 11, 5, 6, 20, tzinfo=UTC)
NOON = datetime(2026, 6, 5, 12, 20, tzinfo=UTC)


@pytest.fixture(scope="module")
def chain():
    route = read_route(next(iter(demo_routes().values())))
    return chain_of([State(s.key, pickable=s.pickable) for s in route.states])


def test_the_demo_lines_name_their_states_as_the_weather_does():
    for folder in demo_routes().values():
        states = read_route(folder).states
        assert chain_of([State(s.key, pickable=s.pickable) for s in states]).keys


def suggest_from_typed(chain, typed, dry_hours, where, at):
    """As the desk does: the typed hour over nothing held."""
    hour = at.replace(minute=0) + HOUR
    held = typed_over(None, Observed(hour, hour_typed(typed)), dry_hours)
    return suggest_from_file(chain, held, where, hour)


def test_typed_values_of_a_fine_day(chain):
    typed = {"air_c": "18", "humidity_percent": "50", "rain_mm": "0"}
    assert suggest_from_typed(chain, typed, 30, LONDON, NOON).state == "dry"


def test_typed_drizzle_after_a_dry_day(chain):
    typed = {"air_c": 9, "humidity_percent": 90, "weather": "drizzle"}
    found = suggest_from_typed(chain, typed, 30, LONDON, MORNING)
    assert found.state == "damp" and "first light rain" in " ".join(found.reasons)


def test_nothing_typed_is_unknown(chain):
    found = suggest_from_typed(chain, {}, None, LONDON, NOON)
    assert found.state is None and found.unknown


def test_typed_faults_name_the_field(chain):
    with pytest.raises(WeatherFaults, match="column air_c") as caught:
        suggest_from_typed(chain, {"air_c": "x", "snow_depth": 3}, 1, LONDON, NOON)
    assert "column snow_depth: it is not known here" in str(caught.value)
    with pytest.raises(WeatherFaults, match="above the air"):
        suggest_from_typed(chain, {"air_c": 3, "dew_point_c": 4}, 1, LONDON, NOON)


def hours(*rain):
    rows = [f"2026-11-05T{h:02d}:00Z,12,60,{mm},5,8" for h, mm in enumerate(rain)]
    text = "time,air_c,humidity_percent,rain_mm,wind_mps,cloud_oktas\n" + "\n".join(rows)
    return read_observations(text.encode(), "w.csv")


def test_the_file_is_read_up_to_the_moment(chain):
    record = hours(0, 0, 0, 0, 0, 0, 0, 3, 3)
    assert suggest_from_file(chain, record, LONDON, MORNING).state == "dry"
    later = MORNING.replace(hour=8)
    assert suggest_from_file(chain, record, LONDON, later).state == "damp"  # season caps


def test_an_hour_the_file_does_not_hold_is_unknown(chain):
    record = hours(0, 0, 0)
    found = suggest_from_file(chain, record, LONDON, MORNING)
    assert found.state is None and found.unknown
    assert suggest_from_file(chain, (), LONDON, MORNING).state is None


def test_the_company_s_own_season_counts(chain):
    rain = hours(3, 3, 3, 3, 3, 3, 3)
    own = Where(LONDON.zone, 53.0, False, ("03-01", "03-31"))
    assert suggest_from_file(chain, rain, own, MORNING).state == "wet"
    assert suggest_from_file(chain, rain, LONDON, MORNING).state == "damp"


def test_the_driver_s_signs_only_worsen(chain):
    record = hours(0, 0, 0, 0, 0, 0, 0)
    met = suggest_from_file(chain, record, LONDON, MORNING, ["leaves", "slide"])
    assert met.state == "leaf"


@pytest.mark.parametrize(
    ("where", "at", "words"),
    [
        (LONDON, datetime(2026, 11, 5, 6), "offset from UTC"),
        (Where(LONDON.zone, season=("1 October", "x")), MORNING, "is not a day"),
        (Where(LONDON.zone, season=("13-01", "12-24")), MORNING, "no day"),
    ],
)
def test_a_time_or_season_that_cannot_be_is_refused(chain, where, at, words):
    with pytest.raises(ValueError, match=words):
        suggest_from_file(chain, (), where, at)


def test_a_chain_without_a_state_for_frost_says_so():
    with pytest.raises(ValueError, match="'frost'"):
        chain_of([State(k, pickable=k != "z") for k in ("dry", "wet", "damp", "leaf", "z")])


def test_the_sun_counts_by_the_place_and_not_by_the_clock():
    # 3 E keeps the clock of 15 E, and summer time: at 08:00 the mean sun stands as at 06:12,
    # and in September the true one is some minutes ahead.
    zone = ZoneInfo("Europe/Paris")
    at = datetime(2026, 9, 20, 8, 0, tzinfo=zone)
    by_sun = place_at(Where(zone, latitude=48.0, longitude=3.0), at)
    by_clock = place_at(Where(zone, latitude=48.0), at)
    assert by_sun.sun_hour == pytest.approx(6.2, abs=0.2)
    assert by_sun.night is True and by_clock.night is False
    assert by_sun.hour == by_clock.hour == 8.0
