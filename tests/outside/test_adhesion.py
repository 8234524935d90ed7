"""Adhesion: the rail states of the demo lines against measured bands, and their order."""

from __future__ import annotations

from functools import cache
from pathlib import Path

import numpy as np

from calc.constants import KMH
from calc.model import RailState
from calc.speed_tables import plan_adhesion
from webapp.packs.read import read_route

from .row import Source, outside

HANDBOOK = Source(
    "German railcar handbook p. 43, table 3 after Metzkow's tests: dry 0.180-0.250, wet "
    "0.160-0.240, slippery, for instance dew, 0.090-0.150",
    "https://goobi.tib.eu/viewer/!fulltext/1880091828/64",
    "CONFIRMED",
)
MANUAL = Source(
    "Industry adhesion-manual text: really wet 0.10-0.20, moist crushed leaves down to 0.01",
    "https://www.rail-traction.com/what-is-low-adhesion/",
    "CONFIRMED",
)
LEAVES = Source(
    "Handbook of Adhesion Promoters p. 12: wet leaves around 0.05",
    "https://digilib.universitaspertamina.ac.id/ebook/Handbook%20of%20Adhesion%20Promoters/"
    "files/basic-html/page19.html",
    "CONFIRMED",
)
ULTRA_LOW = Source(
    "Buckley-Johnstone et al. 2019: a little water with oxide gives 0.05 or less",
    "https://medworm.com/719726537/",
    "CONFIRMED",
)
AUTUMN = Source(
    "Rail Engineer on RSSB T1107: 0.02 is encountered several times a day in autumn",
    "https://www.railengineer.co.uk/"
    "a-little-sand-in-the-right-place-works-wonders-part-2-the-results/",
    "CONFIRMED",
)
DESIGN = Source(
    "LOC&PAS TSI 1302/2014 cl. 4.2.4.6.1: 0.15 is the most a braking design may assume",
    "not seen in a text",
    "FROM MEMORY",
)
CURTIUS = Source(
    "Curtius, Kniffler 1944: 0.161 + 7.5 / (V + 44), dry, driving, V km/h",
    "not seen in a text; constants as seen in a code documentation",
    "FROM MEMORY",
)
DRY, WET, DEW = (0.180, 0.250), (0.160, 0.240), (0.090, 0.150)
ROUTES = Path(__file__).parents[2] / "demo_routes"


@cache
def states() -> list[dict[str, RailState]]:
    """The rail states of every demo line, as the physics is told them."""
    chains = []
    for folder in sorted(path.parent for path in ROUTES.glob("*/route.toml")):
        chain = {}
        for state in read_route(folder).states:
            speeds = tuple(speed * KMH for speed in state.shape_speeds_kmh)
            chain[state.key] = RailState(
                state.key, state.plan, state.slick, speeds, state.shape_factors
            )
        chains.append(chain)
    assert len(chains) >= 2
    return chains


def highest(key: str, what: str = "plan") -> float:
    return max(getattr(chain[key], what) for chain in states())


def lowest(key: str, what: str = "plan") -> float:
    return min(getattr(chain[key], what) for chain in states())


def middle(band: tuple[float, float]) -> float:
    return sum(band) / 2


@outside(HANDBOOK, (0.0, DRY[0]), why="planned dry rail is never better than the dry band")
def test_dry_rail_is_planned_below_the_dry_band():
    return highest("dry")


@outside(HANDBOOK, (0.0, WET[0]), why="planned wet rail is never better than the wet band")
def test_wet_rail_is_planned_below_the_wet_band():
    return highest("wet")


@outside(HANDBOOK, (0.0, DEW[0]), why="planned damp rail is never better than the dew band")
def test_damp_rail_is_planned_below_the_dew_band():
    return highest("damp")


@outside(
    HANDBOOK,
    1.0,
    why="the order dry, wet, dew of the bands' middles is the order of the chain",
)
def test_order_of_dry_wet_and_damp():
    bands = middle(DRY) > middle(WET) > middle(DEW)
    chain = all(c["dry"].plan > c["wet"].plan > c["damp"].plan for c in states())
    return float(bands and chain)


@outside(MANUAL, (0.10, 0.20), why="really wet rail")
def test_wet_rail_lies_in_the_wet_band_of_the_manual():
    return lowest("wet")


@outside(LEAVES, (0.02, 0.05), why="'around 0.05': planned no better")
def test_leaf_film():
    return highest("leaf")


@outside(AUTUMN, 0.02, why="the same figure", within=1e-12)
def test_very_low_rail():
    return highest("very-low")


@outside(MANUAL, 0.01, why="the same figure", within=1e-12)
def test_slick_on_very_low_rail():
    return highest("very-low", "slick")


@outside(ULTRA_LOW, (0.01, 0.05), why="every slick a driver is covered for is ultra-low")
def test_highest_slick_of_all_states():
    return max(state.slick for chain in states() for state in chain.values())


@outside(DESIGN, (0.0, 0.15), why="no state plans with more")
def test_no_state_plans_with_more_than_a_design_may():
    return max(state.plan for chain in states() for state in chain.values())


@outside(
    CURTIUS,
    (0.161 + 7.5 / 204) / (0.161 + 7.5 / 44),
    within=5e-5,
    why="shape of the fall from a stand to 160 km/h, four decimals",
    status="DERIVED",
)
def test_dry_rail_falls_with_speed_as_curtius_and_kniffler():
    dry = states()[0]["dry"]
    return float(plan_adhesion(dry, np.array(160 * KMH))) / dry.plan
