"""What the computation of a braking table gives back."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
Flags = NDArray[np.bool_]

#: Status of a cell of the table.
OK, NO_STOP, NOT_COMPUTED = 0, 1, 2


@dataclass(frozen=True)
class Table:
    """The result; axes T targets, 2 seasons, S states, V trains, K speeds, N nodes.

    Attributes
    ----------
    status : numpy.ndarray of uint8, (T, 2, S, V, K)
        0 ok, 1 no stop possible, 2 not computed.
    brake, seconds, cover : numpy.ndarray, (T, 2, S, V, K)
        Brake point before the mark [m], seconds lost against the usual approach [s],
        cover [m; inf: all the way to the limit]. NaN unless the status is ok.
    usual : numpy.ndarray, (T, V, K)
        Brake point of the usual step on dry rail. [m]
    step, last_step : numpy.ndarray of int, (T, 2, S, V)
    run_in, ease_at, aim_short : numpy.ndarray, (T, 2, S, V)
        0 where the plan has none. [m/s, m/s, m]
    expect_wsp, nothing_added, less_cover : numpy.ndarray of bool, (T, 2, S, V)
    no_state_in_hand : numpy.ndarray of bool, (T, 2, S, V)
        Whether the advice fails a driver who guessed the rail one state too good.
    approach_speed : numpy.ndarray, (T, 2, S, V)
        Highest speed at which a train meets its brake point. [m/s]
    nodes : numpy.ndarray, (N,)
        Distances before the mark. [m]
    advised, ceiling : numpy.ndarray, (T, 2, S, V, N)
        Speed of the plan, and up to which its cover holds. [m/s]
    cover_by_onset : numpy.ndarray, (T, 2, S, V, N)
        Cover for a slick that begins at the node. [m]
    usual_curve : numpy.ndarray, (T, V, N)
        [m/s]
    handle_distance, handle_speed, after_speed, last_distance : numpy.ndarray, (T, 2, S, V)
        Where the first application is left, at what speed, what speed is left then,
        and where the last begins.
    forward_stop : numpy.ndarray, (T, 2, S, V)
        Where the forward run from the approach speed stood, before the mark. [m]
    """

    status: NDArray[np.uint8]
    brake: Floats
    seconds: Floats
    cover: Floats
    usual: Floats
    step: Ints
    last_step: Ints
    run_in: Floats
    ease_at: Floats
    aim_short: Floats
    expect_wsp: Flags
    nothing_added: Flags
    less_cover: Flags
    no_state_in_hand: Flags
    approach_speed: Floats
    nodes: Floats
    advised: Floats
    ceiling: Floats
    cover_by_onset: Floats
    usual_curve: Floats
    handle_distance: Floats
    handle_speed: Floats
    after_speed: Floats
    last_distance: Floats
    forward_stop: Floats
