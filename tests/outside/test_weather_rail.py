"""What weather makes of a rail: hours, season and signs as others have found them."""

from __future__ import annotations

from functools import cache

import numpy as np

from calc.weather.chain import CONDITIONS, Chain
from calc.weather.findings import Place
from calc.weather.observation import Hour
from calc.weather.rail_temperature import sky_emissivity
from calc.weather.season import day_of_year, incident_hour, leaf_fall_days
from calc.weather.suggest import suggest
from calc.weather.sun import sun_height

from .row import Source, outside
from .test_weather_humidity import YEAR, year

HOURS = Source(
    "Ishizaka et al. 2017: incidents likelier 05:00-10:00 and 20:00-24:00",
    "https://staging.scite.ai/reports/the-low-adhesion-problem-due-3GKxNO",
    "CONFIRMED",
)
WET_RAIL = Source(
    "Fisk et al. 2015: dew, very light rain, mist and drying rail give low adhesion",
    "https://pure.hud.ac.uk/en/publications/"
    "investigation-into-the-effect-of-moisture-on-rail-adhesion",
    "CONFIRMED",
)
CARDS = Source(
    "Rule-book cards on low adhesion: leaf-fall season 1 October to 24 December; light rain "
    "after dry weather; a dark, dull or discoloured railhead",
    "https://brainscape.com/flashcards/low-adhesion-17933220/packs/22591962",
    "2nd-hand",
)
OUTSIDE_AUTUMN = Source(
    "Arnall et al. 2018: 55-60 % of transient incidents outside autumn, most very early",
    "https://ftp.nowpublishers.com/jtran/article-split/173/4/273/443089/"
    "Geospatial-and-temporal-data-mining-to-combine",
    "CONFIRMED",
)
BRUTSAERT = Source(
    "Brutsaert 1975 with Campbell and Norman's cloud, as in R EcoHydRology",
    "https://rdrr.io/rforge/EcoHydRology/src/R/AtmosphericEmissivity.R",
    "CONFIRMED",
)
MELLING = Source(
    "TAIC on Melling 2013 and 2014: both times dew after dry weather",
    "https://www.taic.org.nz/recommendation/01814",
    "CONFIRMED",
)
STATES = ("dry", "wet", "damp", "frost", "leaf", "very-low")
CHAIN = Chain(STATES, (True,) * 5 + (False,), tuple((c, c) for c in CONDITIONS))
AUGUST, NOVEMBER = day_of_year(8, 10), day_of_year(11, 10)
#: An airport of the table. [deg]
NEW_YORK = 40.7


def place_of(state: str | None) -> float:
    return -1.0 if state is None else float(STATES.index(state))


def at(day: int, hour: float, **fields: object) -> Place:
    return Place(day, hour, 53.0, **fields)


def suggested(now: Hour, place: Place, *signs: str) -> float:
    found = suggest(CHAIN, now, [0.0] * 40 + [now.rain], place, signs)
    return place_of(found.state)


@cache
def damp_by_hour() -> np.ndarray:
    """Share of the year's hours without rain that are suggested damp, by local hour."""
    rows = year()
    pick = np.nonzero((rows["precip"] == 0.0) & (rows["air"] > 2.0))[0][::7]
    damp, seen = np.zeros(24), np.zeros(24)
    for row in pick:
        hour = int(rows["hour"][row]) % 24
        now = Hour(
            air=rows["air"][row], dew_point=rows["dew"][row], rain=0.0, wind=4.0, cloud=1.0
        )
        damp[hour] += suggested(now, Place(AUGUST, float(hour), NEW_YORK)) >= 2.0
        seen[hour] += 1
    return damp / seen


@outside(HOURS, 9.0, unit="h", why="each whole hour of the two spans, no other")
def test_hours_of_more_incidents() -> float:
    return float(sum(incident_hour(h) for h in range(24)))


@outside(HOURS, (1.3, 20.0), unit="times", why="likelier, by how much is not printed")
def test_damp_is_suggested_more_often_from_5_to_10_than_from_12_to_17() -> float:
    share = damp_by_hour()
    return float(share[5:10].mean() / share[12:17].mean())


@outside(HOURS, (1.1, 20.0), unit="times", why="likelier, by how much is not printed")
def test_damp_is_suggested_more_often_from_20_to_24_than_from_12_to_17() -> float:
    share = damp_by_hour()
    return float(share[20:24].mean() / share[12:17].mean())


@outside(YEAR, (2.0, 5.0), unit="times", why="20 % of hours at 03-04 against 6 % at 13-14")
def test_spread_within_2_k_is_rarer_by_day_than_before_dawn() -> float:
    rows = year()
    near = rows["air"] - rows["dew"] <= 2.0
    night, day = (np.isin(rows["hour"], hours) for hours in ([3, 4], [13, 14]))
    return float(near[night].mean() / near[day].mean())


@outside(YEAR, 454.0, within=60.0, unit="hours", why="rows with a gap are left out here")
def test_hours_of_very_light_rain_in_the_year() -> float:
    rows = year()
    return float(np.sum((rows["precip"] > 0.0) & (rows["precip"] <= 0.01)))


@outside(WET_RAIL, 2.0, why="the place of 'damp' in the chain; no contamination needed")
def test_dew_on_a_cloudless_calm_night_is_damp() -> float:
    now = Hour(air=12.0, humidity=0.85, rain=0.0, wind=0.0, cloud=0.0)
    return suggested(now, at(AUGUST, 3.0))


@outside(WET_RAIL, 2.0, why="the place of 'damp' in the chain")
def test_very_light_rain_is_damp_and_not_wet() -> float:
    return suggested(Hour(air=15.0, humidity=0.7, rain=0.1, wind=3.0), at(AUGUST, 13.0))


@outside(WET_RAIL, 2.0, why="the place of 'damp' in the chain")
def test_mist_is_damp() -> float:
    now = Hour(air=15.0, humidity=0.7, rain=0.0, wind=3.0, word="mist")
    return suggested(now, at(AUGUST, 13.0))


@outside(WET_RAIL, 2.0, why="the place of 'damp' in the chain: a dry-to-wet rail, and back")
def test_a_rail_that_dries_after_rain_is_damp() -> float:
    now = Hour(air=15.0, humidity=0.6, rain=0.0, wind=3.0)
    rain = [0.0] * 40 + [4.0, 4.0, 0.0]
    return place_of(suggest(CHAIN, now, rain, at(AUGUST, 13.0)).state)


@outside(OUTSIDE_AUTUMN, 2.0, why="the place of 'damp': no leaf is needed for a warning")
def test_an_early_morning_in_august_is_warned_of() -> float:
    now = Hour(air=12.0, humidity=0.9, rain=0.0, wind=2.0, cloud=0.1)
    return suggested(now, at(AUGUST, 4.5))


@outside(MELLING, 2.0, why="the place of 'damp': dew after dry weather, no leaves")
def test_dew_after_dry_weather_in_an_autumn_of_the_south_is_damp() -> float:
    now = Hour(air=9.0, humidity=0.92, rain=0.0, wind=1.0, cloud=0.0)
    return suggested(now, Place(day_of_year(4, 15), 6.5, -41.2, leafy=False))


@outside(CARDS, (4.0, 4.0), why="the place of 'leaf': leaf film and the onset of rain")
def test_first_rain_on_a_leafy_line_in_november_is_leaf_film() -> float:
    return suggested(Hour(air=10.0, humidity=0.9, rain=0.2), at(NOVEMBER, 18.0, leafy=True))


@outside(CARDS, 4.0, why="the place of 'leaf': a dull railhead is a sign of it")
def test_a_dull_railhead_is_leaf_film() -> float:
    now = Hour(air=15.0, humidity=0.5, rain=0.0, wind=3.0)
    return suggested(now, at(NOVEMBER, 13.0), "dull railhead")


@outside(CARDS, 274.0, unit="day of the year", why="1 October")
def test_leaf_fall_begins_in_britain() -> float:
    days = leaf_fall_days(53.0)
    return float(days[0]) if days else -1.0


@outside(CARDS, 358.0, unit="day of the year", why="24 December")
def test_leaf_fall_ends_in_britain() -> float:
    days = leaf_fall_days(53.0)
    return float(days[1]) if days else -1.0


#: At 10 degC and 90 %: vapour 0.9 x 12.260 hPa (WMO's table of saturation pressure).
CLEAR = 1.24 * (0.9 * 12.260 / 283.15) ** (1 / 7)


@outside(BRUTSAERT, CLEAR, within=0.0005, status="DERIVED", why="1.24 (e / T)^(1/7)")
def test_cloudless_sky_at_10_degc_and_nine_tenths() -> float:
    return float(sky_emissivity(10.0, 0.9, 0.0))


@outside(
    BRUTSAERT,
    (1 - 0.84 * 0.5) * CLEAR + 0.84 * 0.5,
    within=0.0005,
    status="DERIVED",
    why="its cloud, half",
)
def test_half_clouded_sky_at_10_degc_and_nine_tenths() -> float:
    return float(sky_emissivity(10.0, 0.9, 0.5))


SUN = Source(
    "pvlib documentation and almanacs: noon height is 90 less latitude plus declination",
    "not seen in a text",
    "FROM MEMORY",
)


@outside(SUN, 60.44, within=0.3, unit="deg", why="longest day, latitude 53")
def test_sun_at_noon_on_the_longest_day() -> float:
    return sun_height(172, 53.0, 12.0)
