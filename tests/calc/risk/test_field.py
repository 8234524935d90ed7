"""The random field: its level, spread and patches come out of the draws."""

from __future__ import annotations

import numpy as np
import pytest

from calc.risk.bands import BANDS
from calc.risk.field import RailField, field_from_band, standard_field


def drawn(seed=1, runs=400, cells=300, cell=5.0, patch=100.0, day_share=0.0):
    return standard_field(np.random.default_rng(seed), runs, cells, cell, patch, day_share)


def test_the_same_seed_gives_the_same_field_and_another_another():
    assert np.array_equal(drawn(), drawn())
    assert not np.array_equal(drawn(), drawn(seed=2))


def test_mean_and_variance_are_nought_and_one():
    values = drawn(day_share=0.5, runs=2000)
    assert abs(values.mean()) < 0.05
    assert values.var(axis=0).mean() == pytest.approx(1.0, abs=0.05)


@pytest.mark.parametrize("apart", [5.0, 50.0, 100.0, 300.0])
def test_two_places_are_alike_by_the_length_of_a_patch(apart):
    values, gap = drawn(runs=3000), round(apart / 5.0)
    alike = np.mean(values[:, :-gap] * values[:, gap:])
    assert alike == pytest.approx(np.exp(-apart / 100.0), abs=0.03)


def test_what_the_day_holds_in_common_never_fades():
    values = drawn(runs=4000, day_share=0.5)
    assert np.mean(values[:, 0] * values[:, -1]) == pytest.approx(0.5, abs=0.05)


def test_a_band_holds_nine_tenths_of_the_places():
    field = field_from_band(0.05, 0.15, 100.0)
    mu = field.level * np.exp(field.spread * drawn(runs=3000, cells=100))
    assert np.mean((mu >= 0.05) & (mu <= 0.15)) == pytest.approx(0.9, abs=0.01)
    assert np.median(mu) == pytest.approx(field.level, rel=0.03)


def test_a_band_of_one_figure_has_no_spread():
    assert field_from_band(0.08, 0.08, 50.0).spread == pytest.approx(0.0, abs=1e-12)


def test_the_bands_fall_along_the_chain_and_name_their_basis():
    levels = [band.field().level for band in BANDS]
    assert levels == sorted(levels, reverse=True) and len(set(levels)) == len(levels)
    assert all(band.basis for band in BANDS)


@pytest.mark.parametrize(
    ("figures", "words"),
    [
        ((0.0, 0.2, 100.0), "level"),
        ((float("nan"), 0.2, 100.0), "level"),
        ((0.1, -0.2, 100.0), "spread"),
        ((0.1, float("nan"), 100.0), "spread"),
        ((0.1, 0.2, 0.0), "patches"),
        ((0.1, 0.2, 100.0, 1.5), "day"),
    ],
)
def test_a_field_that_cannot_be_is_refused(figures, words):
    with pytest.raises(ValueError, match=words):
        RailField(*figures)


@pytest.mark.parametrize("band", [(0.0, 0.1), (0.2, 0.1), (0.1, float("nan"))])
def test_a_band_that_cannot_be_is_refused(band):
    with pytest.raises(ValueError, match="band"):
        field_from_band(*band, 100.0)


@pytest.mark.parametrize("change", [{"runs": 0}, {"cells": 0}, {"cell": 0.0}])
def test_an_empty_draw_is_refused(change):
    with pytest.raises(ValueError, match="needs runs and cells"):
        drawn(**change)
