"""The interval of a counted share against published worked values and SciPy."""

from __future__ import annotations

from scipy import stats

from calc.risk.bands import BANDS
from calc.risk.interval import normal_quantile, wilson_interval

from .row import Source, outside

NEWCOMBE = Source(
    "Newcombe 1998, Two-sided confidence intervals for the single proportion, Statistics in "
    "Medicine 17, table I, method 3",
    "not seen in a text",
    "FROM MEMORY",
)
SCIPY = Source(
    "SciPy 1.x, binomtest(...).proportion_ci(method='wilson'), run here",
    "https://docs.scipy.org/doc/scipy/reference/generated/"
    "scipy.stats._result_classes.BinomTestResult.proportion_ci.html",
    "CONFIRMED",
)
METZKOW = Source(
    "German railcar handbook p. 43, table 3 after Metzkow's tests",
    "https://goobi.tib.eu/viewer/!fulltext/1880091828/64",
    "CONFIRMED",
)
LEAVES = Source(
    "Handbook of Adhesion Promoters p. 12: wet leaves around 0.05",
    "https://digilib.universitaspertamina.ac.id/ebook/Handbook%20of%20Adhesion%20Promoters/"
    "files/basic-html/page19.html",
    "CONFIRMED",
)
DIGITS = "as many digits as are printed"
FIELDS = {band.condition: band.field() for band in BANDS}


@outside(NEWCOMBE, 0.2553, within=0.0001, why=DIGITS)
def test_81_of_263_lower() -> float:
    return wilson_interval(81, 263).low


@outside(NEWCOMBE, 0.3662, within=0.0001, why=DIGITS)
def test_81_of_263_upper() -> float:
    return wilson_interval(81, 263).high


@outside(NEWCOMBE, 0.1605, within=0.0001, why=DIGITS)
def test_15_of_148_upper() -> float:
    return wilson_interval(15, 148).high


@outside(NEWCOMBE, 0.1611, within=0.0001, why=DIGITS)
def test_none_of_20_upper() -> float:
    return wilson_interval(0, 20).high


@outside(NEWCOMBE, 0.0061, within=0.0001, why=DIGITS)
def test_1_of_29_lower() -> float:
    return wilson_interval(1, 29).low


@outside(SCIPY, 0.0, within=1e-9, why="the same formula, another hand")
def test_largest_difference_from_scipy_at_99_hundredths() -> float:
    off = 0.0
    for hits, runs in ((0, 7), (3, 7), (7, 7), (117, 1000), (853, 1000)):
        theirs = stats.binomtest(hits, runs).proportion_ci(0.99, method="wilson")
        ours = wilson_interval(hits, runs, 0.99)
        off = max(off, abs(ours.low - theirs.low), abs(ours.high - theirs.high))
    return off


@outside(SCIPY, 1.959963985, within=1e-8, status="DERIVED", why="norm.ppf(0.975)")
def test_normal_quantile() -> float:
    return normal_quantile(0.975)


@outside(METZKOW, (0.18, 0.25), why="the median of the dry field lies in the dry band")
def test_dry_field() -> float:
    return FIELDS["dry"].level


@outside(METZKOW, (0.09, 0.15), why="dew; ours reaches lower, down to ultra-low")
def test_damp_field_at_its_upper_quarter() -> float:
    damp = FIELDS["damp"]
    return float(damp.level * 2.718281828 ** (0.6745 * damp.spread))


@outside(LEAVES, 0.05, within=0.01, why="'around'")
def test_leaf_field() -> float:
    return FIELDS["leaf"].level
