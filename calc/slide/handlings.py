"""Handlings a driver knows, as data; and their orders for a batch of runs."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, fields

import numpy as np

from .handle import NEVER, NO_STEP, Orders
from .model import Floats, Ints, SlideTrain

#: Names of steps that differ from type to type.
USUAL, HIGHEST, LIGHTEST, EMERGENCY, LIGHTER = (
    "usual",
    "highest",
    "lightest",
    "emergency",
    "lighter",
)


@dataclass(frozen=True)
class Handling:
    """One way to handle the brake.

    Attributes
    ----------
    name : str
    step : str
        First step: "usual", "lightest", "highest" or "emergency".
    on_slide : str or None
        Step after a slide; "lighter" is one below the first.
    after : float
        From the first slide to that move: reaction, or waiting. [s]
    fan_period, fan_share : float
        Releasing and re-applying after a slide; share of the period released. [s, -]
    emergency_before : float or None
        Distance before the mark at which emergency is taken as a last resort. [m]
    """

    name: str
    step: str = USUAL
    on_slide: str | None = None
    after: float = 2.0
    fan_period: float = 0.0
    fan_share: float = 0.0
    emergency_before: float | None = None


def usual_handlings() -> tuple[Handling, ...]:
    """Return the handlings that are compared; times and places are assumptions."""
    return (
        Handling("usual"),
        Handling("sooner and softer", step=LIGHTEST),
        Handling("usual step held, then highest", on_slide=HIGHEST),
        Handling("emergency late", emergency_before=150.0),
        Handling("emergency at once", on_slide=EMERGENCY),
        Handling("fanned", fan_period=4.0, fan_share=0.4),
        Handling("part-released", on_slide=LIGHTER),
    )


def step_index(train: SlideTrain, name: str, first: int = 0) -> int:
    """Return the index of a named step.

    Parameters
    ----------
    train : SlideTrain
    name : str
        `USUAL`, `HIGHEST`, `LIGHTEST`, `LIGHTER` or `EMERGENCY`.
    first : int
        The step that `LIGHTER` is lighter than.

    Returns
    -------
    int

    Raises
    ------
    ValueError
        If no step has the name, or the train's emergency brake is not known.
    """
    if name == EMERGENCY:
        if train.emergency_step is None:
            raise ValueError(f"train {train.base.key}: its emergency brake is not known")
        return train.emergency_step
    known = {
        USUAL: train.base.usual_step,
        HIGHEST: train.highest,
        LIGHTEST: 0,
        LIGHTER: max(first - 1, 0),
    }
    if name not in known:
        raise ValueError(f"train {train.base.key}: no step is called {name!r}")
    return known[name]


def orders_of(handling: Handling, train: SlideTrain, mark: Floats) -> Orders:
    """Return the orders of one handling for runs with the given marks. [m].

    Parameters
    ----------
    handling : Handling
    train : SlideTrain
    mark : numpy.ndarray, shape (runs,)
        [m]

    Returns
    -------
    Orders
        Arrays of shape (runs,).
    """
    runs = np.asarray(mark).size
    step = step_index(train, handling.step)
    slide = (
        NO_STEP if handling.on_slide is None else step_index(train, handling.on_slide, step)
    )
    late = handling.emergency_before
    at = np.full(runs, NEVER) if late is None else np.asarray(mark) - late
    then = step if late is None else step_index(train, EMERGENCY)
    acts = handling.on_slide is not None or handling.fan_period > 0
    return Orders(
        step=_all(step, runs),
        slide_step=_all(slide, runs),
        slide_after=np.full(runs, handling.after if acts else NEVER),
        fan_period=np.full(runs, handling.fan_period),
        fan_share=np.full(runs, handling.fan_share),
        then_at=np.asarray(at, dtype=np.float64),
        then_step=_all(then, runs),
        release_speed=np.full(runs, np.nan),
        after_speed=np.full(runs, np.nan),
        ease=np.zeros(runs, dtype=bool),
        last=np.full(runs, NEVER),
        last_speed=np.zeros(runs),
    )


def together(parts: Sequence[Orders]) -> Orders:
    """Return the orders of several handlings one after the other.

    Parameters
    ----------
    parts : sequence of Orders

    Returns
    -------
    Orders
        As many runs as all of them.
    """
    return Orders(
        **{f.name: np.concatenate([getattr(p, f.name) for p in parts]) for f in fields(Orders)}
    )


def _all(value: int, runs: int) -> Ints:
    return np.full(runs, value, dtype=np.int64)
