"""The pictures of a pack: speed against distance for each stop, one file a train."""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import NDArray

from calc.margins import cover_down
from calc.table import Table
from webapp.lines.columns import ALL_THE_WAY
from webapp.packs.quantise import tenths_down

Json = dict[str, Any]
Floats = NDArray[np.float64]
SPACING = 50


def picture_columns(table: Table, train: int, mps: float) -> Json:
    """Return one train's curves of one direction, season first."""
    cell = table.nodes[1] - table.nodes[0]
    every = round(SPACING / cell)
    seasons, targets, states = table.step.shape[1], table.step.shape[0], table.step.shape[2]
    cells = [
        [
            [(target, season, state, train) for state in range(states)]
            for target in range(targets)
        ]
        for season in range(seasons)
    ]

    def curves(values: Floats) -> list[Any]:
        return [
            [[_tenths(values[at][::every], mps) for at in row] for row in season]
            for season in cells
        ]

    return {
        "usual": [
            _tenths(table.usual_curve[target, train][::every], mps)
            for target in range(targets)
        ],
        "advised": curves(table.advised),
        "ceiling": curves(table.ceiling),
        "cover_by_onset": [
            [[_onsets(table.cover_by_onset[at], every) for at in row] for row in season]
            for season in cells
        ],
    }


def _tenths(speed: Floats, mps: float) -> list[int]:
    """Return tenths of a unit up to where the curve ends."""
    known = np.isfinite(speed)
    count = speed.size if known.all() else int(np.argmin(known))
    return [int(value) for value in tenths_down(speed[:count], mps)]


def _onsets(cover: Floats, every: int) -> list[list[int]]:
    """Return [metres before the mark, cover] wherever the cover changes.

    Each piece carries the least cover of its nodes, so that a thinner table never
    promises more.
    """
    out: list[list[int]] = []
    for number, start in enumerate(range(0, cover.size, every)):
        piece = cover[start : start + every + 1]
        piece = piece[~np.isnan(piece)]
        if piece.size == 0:
            break
        least = float(piece.min())
        metres = ALL_THE_WAY if np.isposinf(least) else int(cover_down(least))
        if not out or out[-1][1] != metres:
            out.append([number * SPACING, metres])
    return out


def pictures_file(base_sha: str, train: str, columns: Json) -> Json:
    return {
        "format": "step-in-hand/pictures",
        "version": 1,
        "base": base_sha,
        "train": train,
        "spacing_m": SPACING,
    } | columns
