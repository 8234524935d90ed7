"""Is the newer brake worse? Stops of a disc and a tread unit on the same rails."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np

from ..constants import GRAVITY
from ..model import RailState
from ..speed_tables import plan_adhesion, resistance_per_mass
from .check import check_slide_train
from .model import Flags, Floats, Ints, SlideTrain
from .tread import (
    adhesion_through_films,
    cast_iron_fade,
    cast_iron_friction,
    film_on_rail,
    film_on_tyre,
)

#: What is compared, in this order.
BRAKES = ("disc, WSP", "tread, WSP", "tread, no WSP")
_TICK = 0.05
_LONGEST = 600.0


@dataclass(frozen=True)
class BlockData:
    """Figures of the comparison; all are assumptions but the order of their effects.

    Attributes
    ----------
    dry : float
        Adhesion of clean rail and tyre; the top of Metzkow's dry rail. [-]
    cleaning_metres : float
        Way of block braking that takes off 63 % of a tyre's film. [m]
    heat_capacity : float
        Of the rims and blocks that take the heat, per unit mass of the train. [J/(kg K)]
    cooling_time : float
        First-order time of their cooling. [s]
    ambient, start : float
        Temperatures; a train that has just made many stops starts hot. [degC]
    locked : float
        Without WSP, share of the adhesion a locked wheelset gets. [-]
    locked_cleaning : float
        Share of the cleaning that goes on while it locks and is freed by hand. [-]
    """

    dry: float = 0.25
    cleaning_metres: float = 75.0
    heat_capacity: float = 6.0
    cooling_time: float = 300.0
    ambient: float = 15.0
    start: float = 15.0
    locked: float = 0.75
    locked_cleaning: float = 0.3


@dataclass(frozen=True)
class Comparison:
    """Stopping distances and curves.

    Attributes
    ----------
    brakes, states : tuple of str
    speeds : numpy.ndarray, shape (speeds,)
        [m/s]
    metres, seconds : numpy.ndarray, shape (brakes, states, speeds)
        From the brake controller's move to the stand; NaN: no stand. [m, s]
    slid : numpy.ndarray of bool, shape (brakes, states, speeds)
    hottest : numpy.ndarray, shape (brakes, states, speeds)
        Of rims and blocks; a disc unit's wheels stay as they were. [degC]
    curve : numpy.ndarray, shape (brakes, states, speeds, 101)
        Speed at hundredths of that run's stopping distance, for a picture. [m/s]
    """

    brakes: tuple[str, ...]
    states: tuple[str, ...]
    speeds: Floats
    metres: Floats
    seconds: Floats
    slid: Flags
    hottest: Floats
    curve: Floats


@dataclass
class _Cases:
    """All runs side by side."""

    brake: Ints
    speed: Floats
    rail_film: Floats
    film: Floats
    temperature: Floats
    level: Floats
    metres: Floats
    seconds: Floats
    slowing: Floats
    slid: Flags
    hottest: Floats
    rows: list[tuple[Floats, Floats]] = field(default_factory=list)


def compare_brakes(
    train: SlideTrain,
    step: int,
    states: Sequence[RailState],
    speeds: Floats,
    blocks: BlockData | None = None,
) -> Comparison:
    """Stop a disc and a tread unit of the same weights from the same speeds.

    Parameters
    ----------
    train : SlideTrain
        Its step gives the disc unit's rate, and the tread unit's at 36 km/h and cold.
    step : int
        Step held to the stand; level track.
    states : sequence of RailState
        What a disc-braked wheel gets there.
    speeds : numpy.ndarray
        [m/s]
    blocks : BlockData, optional

    Raises
    ------
    ValueError
        If a figure is missing, a speed is not above 0, or there is no such step.
    """
    speeds = np.asarray(speeds, dtype=np.float64)
    check_slide_train(train)
    if not 0 <= step < len(train.steps):
        raise ValueError(f"train {train.base.key}: it has no step of index {step}")
    if speeds.size == 0 or not np.all(np.isfinite(speeds) & (speeds > 0)):
        raise ValueError("comparison: speeds must be given and above 0")
    if not states:
        raise ValueError("comparison: no rail state was given")
    blocks = blocks or BlockData()
    shape = (len(BRAKES), len(states), speeds.size)
    state = np.broadcast_to(np.arange(len(states))[None, :, None], shape).ravel()
    cases = _begin(np.broadcast_to(speeds, shape).ravel(), state, states, blocks, shape)
    for _ in range(int(_LONGEST / _TICK)):
        if not np.any(cases.speed > 0):
            break
        _tick(cases, train, step, state, states, blocks)
    return _result(cases, states, speeds, shape)


def _begin(
    speed: Floats,
    state: Ints,
    states: Sequence[RailState],
    blocks: BlockData,
    shape: tuple[int, ...],
) -> _Cases:
    """Return the runs as the brake controller moves."""
    brake = np.broadcast_to(np.arange(shape[0])[:, None, None], shape).ravel()
    mu = _disc_adhesion(state, states, speed)
    zero = np.zeros(speed.shape)
    return _Cases(
        brake=brake,
        speed=speed.copy(),
        rail_film=film_on_rail(blocks.dry, mu),
        film=np.ones(speed.shape),
        temperature=np.full(speed.shape, blocks.start),
        level=zero.copy(),
        metres=zero.copy(),
        seconds=zero.copy(),
        slowing=zero.copy(),
        slid=np.zeros(speed.shape, dtype=bool),
        hottest=np.full(speed.shape, blocks.start),
    )


def _disc_adhesion(state: Ints, states: Sequence[RailState], speed: Floats) -> Floats:
    every = np.stack([plan_adhesion(one, speed) for one in states])
    return np.asarray(every[state, np.arange(speed.size)])


def _tick(
    cases: _Cases,
    train: SlideTrain,
    step: int,
    state: Ints,
    states: Sequence[RailState],
    blocks: BlockData,
) -> None:
    """Advance every run by one time step."""
    base, rule = train.base, train.steps[step]
    tread, bare = cases.brake > 0, cases.brake == 2
    drag = resistance_per_mass(base, cases.speed)
    rate = np.interp(cases.speed, rule.speeds, rule.rates) * (1.0 + base.rotating) - drag
    at = np.interp(10.0, rule.speeds, rule.rates) * (1.0 + base.rotating)
    iron = at * cast_iron_friction(cases.speed) * cast_iron_fade(cases.temperature)
    goal = np.where(tread, iron - drag, rate)
    goal = np.where(cases.seconds >= base.dead_time - 1e-9, np.maximum(goal, 0.0), 0.0)
    tau = np.where(goal > cases.level, train.fill_time, train.empty_time)
    moved = goal + (cases.level - goal) * np.exp(-_TICK / tau)
    middle = 0.5 * (moved + cases.level)
    mu = _disc_adhesion(state, states, cases.speed)
    rail = film_on_rail(blocks.dry, mu)
    whole = film_on_tyre(blocks.dry, mu)
    mu = adhesion_through_films(blocks.dry, rail, cases.film * whole)
    most = train.eta * GRAVITY * mu
    wanted = middle - base.rotating * cases.slowing
    sliding = wanted > most
    # Locked wheels stop what WSP would have kept turning: less grip, less cleaning.
    given = np.where(sliding & bare, blocks.locked * GRAVITY * mu, np.minimum(wanted, most))
    slides_give = np.where(bare, blocks.locked * GRAVITY * mu, most)
    slowing = np.where(sliding, slides_give + drag, (middle + drag) / (1 + base.rotating))
    cases.level = np.where(sliding & ~bare, most + base.rotating * slowing, moved)
    _move(cases, slowing)
    ds = cases.speed * _TICK
    turning = np.where(sliding & bare, blocks.locked_cleaning, 1.0)
    rubs = np.where(tread & (cases.level > 0), turning * ds / blocks.cleaning_metres, 0.0)
    cases.film = cases.film * np.exp(-rubs)
    heat = np.where(tread, given * ds / blocks.heat_capacity, 0.0)
    cool = (cases.temperature - blocks.ambient) * (_TICK / blocks.cooling_time)
    cases.temperature = cases.temperature + heat - np.where(tread, cool, 0.0)
    cases.hottest = np.maximum(cases.hottest, cases.temperature)
    cases.slid |= sliding & (cases.speed > 0)


def _move(cases: _Cases, slowing: Floats) -> None:
    """Move the runs by one time step, to the very place where one stands."""
    stands = (cases.speed - slowing * _TICK) <= 0
    share = np.where(stands, cases.speed / np.maximum(slowing, 1e-9), _TICK)
    share = np.minimum(share, _TICK)
    later = np.where(stands, 0.0, cases.speed - slowing * _TICK)
    cases.metres = cases.metres + 0.5 * (cases.speed + later) * share
    cases.seconds = cases.seconds + share
    cases.speed, cases.slowing = later, slowing
    cases.rows.append((cases.metres, later))


def _result(
    cases: _Cases, states: Sequence[RailState], speeds: Floats, shape: tuple[int, ...]
) -> Comparison:
    metres = np.where(cases.speed <= 0, cases.metres, np.nan)
    way, fast = (np.stack(column) for column in zip(*cases.rows, strict=True))
    first = np.broadcast_to(speeds, shape).ravel()
    share = np.linspace(0.0, 1.0, 101)
    curve = np.stack(
        [
            np.interp(
                share * cases.metres[i],
                np.concatenate([[0.0], way[:, i]]),
                np.concatenate([[first[i]], fast[:, i]]),
            )
            for i in range(metres.size)
        ]
    )
    return Comparison(
        brakes=BRAKES,
        states=tuple(state.key for state in states),
        speeds=speeds,
        metres=metres.reshape(shape),
        seconds=cases.seconds.reshape(shape),
        slid=cases.slid.reshape(shape),
        hottest=cases.hottest.reshape(shape),
        curve=curve.reshape(*shape, share.size),
    )
