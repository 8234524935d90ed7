"""Running resistance: published coefficients put into our form A + B v + C v2."""

from __future__ import annotations

import numpy as np

from calc.constants import GRAVITY, KMH, MPH
from calc.speed_tables import resistance_per_mass
from tests.calc.cases import train

from .row import Source, outside

NOTEBOOK = Source(
    "RailwayBrakeCalculation: A 3000 N, B 110 N/(m/s), C 7 N/(m/s)2, 118 t",
    "https://github.com/RailProfAC/RailwayBrakeCalculation",
    "CONFIRMED",
)
DAVIS = Source(
    "Davis: 1.3 + 29/w + 0.045 v + 0.0005 a v2/(w n) lb/ton",
    "https://physics.stackexchange.com/questions/387637",
    "CONFIRMED",
)
INDIAN = Source(
    "R = W (0.0016 + 0.00008 V + 0.0000006 V2), t and km/h; first two terms in the text",
    "https://www.brainkart.com/article/Train-Resistance-Due-to-Wave-Action_4335/",
    "CONFIRMED",
)
POUND, SHORT_TON = 0.45359237, 907.18474


def resistance(coefficients, mass, speed) -> float:
    return float(
        resistance_per_mass(train(mass=mass, resistance=coefficients), np.array(speed))
    )


@outside(NOTEBOOK, 22_125.0, within=1e-6, unit="N", why="exact", status="DERIVED")
def test_resistance_at_45_metres_a_second():
    return resistance((3_000.0, 110.0, 7.0), 118_000.0, 45.0) * 118_000.0


@outside(NOTEBOOK, 187.5, within=1e-9, unit="N/t", why="exact", status="DERIVED")
def test_resistance_per_tonne():
    return resistance((3_000.0, 110.0, 7.0), 118_000.0, 45.0) * 1000.0


@outside(DAVIS, 9.533, within=5e-4, unit="lb/ton", why="three decimals", status="DERIVED")
def test_davis_at_60_mph():
    axle_tons, axles, area = 15.0, 4, 120.0
    tons = axle_tons * axles
    per_ton = (1.3 + 29.0 / axle_tons, 0.045 / MPH, 0.0005 * area / tons / MPH**2)
    newtons = tuple(c * tons * POUND * GRAVITY for c in per_ton)
    found = resistance(newtons, tons * SHORT_TON, 60 * MPH)
    return found / GRAVITY * SHORT_TON / POUND


def indian(speed_kmh: float) -> float:
    mass = 400_000.0
    weight = mass * GRAVITY
    terms = (0.0016 * weight, 0.00008 * weight / KMH, 0.0000006 * weight / KMH**2)
    return resistance(terms, mass, speed_kmh * KMH) / GRAVITY * 1000.0


@outside(INDIAN, 15.6, within=1e-9, unit="kg/t", why="exact", status="DERIVED")
def test_indian_formula_at_100_kmh():
    return indian(100.0)


@outside(INDIAN, 8.56, within=1e-9, unit="kg/t", why="exact", status="DERIVED")
def test_indian_formula_at_60_kmh():
    return indian(60.0)
