"""Every assumption of feel, weather and risk is listed once, with its value and basis."""

from __future__ import annotations

import pytest

from calc.feel import assumptions as feel
from calc.feel.brake_feel import Tolerances
from calc.risk import assumptions as risk
from calc.risk.bands import BANDS
from calc.weather import assumptions as weather
from calc.weather.rain import RainRules


@pytest.mark.parametrize("module", [feel, risk, weather])
def test_each_has_words_value_and_basis_and_none_stands_twice(module):
    rows = module.assumptions()
    assert all(what and value and basis for what, value, basis in rows)
    assert len({what for what, _, _ in rows}) == len(rows)


def test_every_tolerance_band_and_rule_is_there():
    assert len(feel.assumptions()) == len(vars(Tolerances())) + 4
    assert len(risk.assumptions()) == 2 * len(BANDS) + 3
    words = " ".join(value for _, value, _ in weather.assumptions())
    for figure in vars(RainRules()).values():
        assert f"{figure:g}" in words
