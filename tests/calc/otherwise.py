"""Advice driven with one thing otherwise than planned, by an integrator of its own.

Written from the rules alone, as `road` is, but for thousands of runs at once: nothing of
`calc.forward` and no table of the program is used. The plan itself is what was advised
for the figures in the input; only the run differs.
"""

from __future__ import annotations

from dataclasses import dataclass, fields

import numpy as np

from calc.constants import GRAVITY
from calc.margins import brake_distance_out, cover_down
from calc.model import TableInput
from calc.result import OK, Table

TICK, WHEELSETS = 0.05, 8
#: A run this far past its mark has not stopped [m].
NEVER = 3_000.0
#: A driver adds the highest step once the mark asks for this much more than his step
#: gives, a reaction later. Common practice, no source.
NOTICED = 1.2


@dataclass(frozen=True)
class Approaches:
    """Advised approaches as the card gives them; every array (runs,), SI."""

    target: np.ndarray
    season: np.ndarray
    state: np.ndarray
    train: np.ndarray
    speed: np.ndarray
    brake: np.ndarray
    step: np.ndarray
    leave: np.ndarray
    after: np.ndarray
    ease: np.ndarray
    last: np.ndarray
    last_speed: np.ndarray
    cover: np.ndarray

    def take(self, where: np.ndarray) -> Approaches:
        return Approaches(**{f.name: getattr(self, f.name)[where] for f in fields(self)})


@dataclass(frozen=True)
class Otherwise:
    """What is otherwise in the run than in the plan.

    ``worse`` states down the chain; ``force`` as a share of the quoted; ``late`` seconds at
    the brake mark; ``efficiency`` of the rail's adhesion in a slide, None as planned;
    ``undershoot`` of the cylinder at each slide, as a share; ``slow`` seconds more dead
    time; ``helps``: the driver adds the highest step once he falls behind.
    """

    worse: int = 0
    force: float = 1.0
    late: float = 0.0
    efficiency: float | None = None
    undershoot: float = 0.0
    slow: float = 0.0
    helps: bool = False


@dataclass(frozen=True)
class Slicks:
    """A first and a second slick of each run: far and near end before the mark, adhesion."""

    begin: np.ndarray
    end: np.ndarray
    second_begin: np.ndarray
    second_end: np.ndarray
    adhesion: np.ndarray


@dataclass(frozen=True)
class Ends:
    """How far past its limit each run stood, and how fast it went there. [m, m/s]"""

    past: np.ndarray
    speed: np.ndarray


def approaches_of(given: TableInput, table: Table, at: tuple[np.ndarray, ...]) -> Approaches:
    """Read cases out of a table as a card shows them, at the speed a train comes with."""
    speeds, pace = np.asarray(given.speeds), table.approach_speed[at]
    rows = zip(pace, table.brake[at], strict=True)
    brake = [np.interp(v, speeds[(k := np.isfinite(b))], b[k]) for v, b in rows]
    short = pace <= np.fmax(table.run_in[at], table.ease_at[at])
    plain = short | np.isnan(table.handle_speed[at])
    knot = np.clip(np.searchsorted(speeds, pace - 1e-9), 0, speeds.size - 1)
    return Approaches(
        *at,
        speed=pace,
        brake=brake_distance_out(np.array(brake)),
        step=np.where(short, table.last_step[at], table.step[at]),
        leave=np.where(plain, np.nan, table.handle_speed[at]),
        after=table.after_speed[at],
        ease=table.ease_at[at] > 0,
        last=np.where(short, np.nan, table.last_distance[at]),
        last_speed=table.run_in[at],
        cover=np.nan_to_num(table.cover[(*at, knot)], nan=0.0, posinf=np.inf),
    )


def usable(given: TableInput, table: Table) -> np.ndarray:
    """Return the cases with advice at the speed a train comes with, stops alone."""
    stops = np.array([target.to_speed == 0 for target in given.targets])
    ready = (table.status == OK).any(axis=-1) & np.isfinite(table.approach_speed)
    return ready & stops[:, None, None, None]


def no_slicks(runs: Approaches) -> Slicks:
    nothing = np.full(runs.speed.shape, np.nan)
    return Slicks(*(nothing,) * 5)


def slicks_of(
    given: TableInput,
    runs: Approaches,
    onset: np.ndarray,
    length=None,
    adhesion=None,
    gap=None,
) -> Slicks:
    """Return the promised slick of each run from an onset, or one otherwise than promised."""
    plain = slick_promised(given, runs)
    reach = np.where(
        np.isinf(runs.cover), onset + 200.0, cover_down(np.minimum(runs.cover, 1e6))
    )
    reach = reach if length is None else np.full(onset.shape, float(length))
    end = onset - reach
    none = np.full(onset.shape, np.nan)
    second = (none, none) if gap is None else (end - gap, end - gap - reach)
    mu = plain if adhesion is None else np.minimum(plain, adhesion)
    return Slicks(onset, end, *second, mu)


def slick_promised(given: TableInput, runs: Approaches) -> np.ndarray:
    return np.array([state.slick for state in given.states])[runs.state]


class Grids:
    """What depends on speed, laid out at every 0.1 m/s and straight between."""

    def __init__(self, given: TableInput):
        top = 1.5 * max(given.speeds) + 5.0
        self.last = int(top * 10)
        v = np.arange(self.last + 1) / 10
        most = max(len(train.steps) for train in given.trains)
        self.own = np.empty((len(given.trains), v.size))
        self.force = np.zeros((len(given.trains), most + 1, v.size))
        self.share = np.ones((len(given.trains), most + 1))
        for i, train in enumerate(given.trains):
            a, b, c = train.resistance
            self.own[i] = (a + b * v + c * v**2) / train.mass
            part = 1 - train.isolated_share
            for k, rule in enumerate(train.steps):
                rate = np.interp(v, rule.speeds, rule.rates) * (1 + train.rotating)
                self.force[i, k] = np.maximum(rate - self.own[i], 0.0) * part
                self.share[i, k] = rule.wheelset_share * part
        self.mu = np.array(
            [s.plan * np.interp(v, s.shape_speeds, s.shape_factors) for s in given.states]
        )

    def at(self, rows: np.ndarray, index: tuple, v: np.ndarray) -> np.ndarray:
        """Read rows of a grid at each run's speed; ``index`` picks the row."""
        scaled = np.clip(v * 10, 0, self.last - 1e-6)
        low = scaled.astype(int)
        part = scaled - low
        return rows[(*index, low)] * (1 - part) + rows[(*index, low + 1)] * part


class Road:
    """One direction of a line and its trains, read for many runs at once."""

    def __init__(self, given, runs: Approaches, other: Otherwise, slicks: Slicks, grids=None):
        self.given, self.runs, self.other, self.slicks = given, runs, other, slicks
        self.grids = grids or Grids(given)
        self.state = np.minimum(runs.state + other.worse, len(given.states) - 1)
        self.mark = np.array([t.mark for t in given.targets])[runs.target, runs.train]
        limit = np.array([t.limit for t in given.targets])[runs.target, runs.train]
        self.margin = limit - self.mark
        units = [given.trains[v] for v in runs.train]
        self.rotating = np.array([u.rotating for u in units])
        self.dead = np.array([u.dead_time for u in units]) + other.slow
        self.up = np.array([u.ramp for u in units])
        self.down = np.array([u.release_ramp for u in units])
        self.top = np.array([len(u.steps) - 1 for u in units])
        length = np.array([u.length for u in units])
        self.spread = length[:, None] * (np.arange(WHEELSETS) + 0.5) / WHEELSETS
        self.eta = given.settings.eta if other.efficiency is None else other.efficiency

    def rest(self, x, v):
        """Resistance and gradient under the train. [m/s2]"""
        own = self.grids.at(self.grids.own, (self.runs.train,), v)
        line = self.given.line
        place = self.mark[:, None] - x[:, None] - self.spread
        index = np.searchsorted(line.gradient_from, place, side="right") - 1
        slope = np.asarray(line.gradient)[np.clip(index, 0, None)].mean(axis=1)
        return own + GRAVITY * slope

    def force(self, step, v):
        """Quoted force of a step per unit mass, and the share of the weight that brakes.

        Step -1 is no step: its row in the grids is the last, without force.
        """
        index = (self.runs.train, step)
        return self.grids.at(self.grids.force, index, v), self.grids.share[index]

    def rail(self, x, v):
        """What the rail holds under each wheelset, per unit weight."""
        before = x[:, None] + self.spread
        place = self.mark[:, None] - before
        worst = np.broadcast_to(self.state[:, None], place.shape).copy()
        for start, stop, index, seasonal in self.given.line.listed:
            on = (place >= start) & (place < stop)
            on &= (self.runs.season[:, None] == 1) | (not seasonal)
            worst = np.where(on, np.maximum(worst, index), worst)
        mu = self.grids.at(self.grids.mu, (worst,), v[:, None])
        for far, near in (
            (self.slicks.begin, self.slicks.end),
            (self.slicks.second_begin, self.slicks.second_end),
        ):
            on = (before <= far[:, None]) & (before > near[:, None])
            mu = np.where(on, np.minimum(mu, self.slicks.adhesion[:, None]), mu)
        return self.eta * GRAVITY * mu

    def take(self, where) -> Road:
        parts = {f.name: getattr(self.slicks, f.name)[where] for f in fields(Slicks)}
        return Road(self.given, self.runs.take(where), self.other, Slicks(**parts), self.grids)


@dataclass
class _Now:
    """Where each run is, when each order of its driver acts, and what it came to."""

    number: np.ndarray
    x: np.ndarray
    v: np.ndarray
    a: np.ndarray
    level: np.ndarray
    orders: np.ndarray
    slid: np.ndarray
    over: np.ndarray


FIRST, LEFT, LAST, FULL = range(4)


def run(
    given: TableInput, runs: Approaches, other: Otherwise, slicks: Slicks | None = None
) -> Ends:
    """Drive each approach to a stand: a slide makes the driver go to the highest step."""
    road = Road(given, runs, other, slicks or no_slicks(runs))
    count = runs.speed.size
    orders = np.full((4, count), np.inf)
    orders[FIRST] = road.dead
    now = _Now(
        np.arange(count),
        runs.brake - other.late * runs.speed,
        runs.speed.copy(),
        np.zeros(count),
        np.zeros((count, WHEELSETS)),
        orders,
        np.zeros(count, dtype=bool),
        np.full(count, np.nan),
    )
    past, speed, time = np.full(count, NEVER), np.zeros(count), 0.0
    while now.v.size:
        _advance(road, now, time)
        time += TICK
        gone = np.isnan(now.over) & (now.x < -road.margin)
        now.over = np.where(gone, now.v, now.over)
        ended = (now.v <= 0) | (now.x < -NEVER)
        # Runs that stand stay where they are until they are worth taking out.
        if ended.mean() < 0.2:
            continue
        at = now.number[ended]
        past[at] = np.minimum(-now.x - road.margin, NEVER)[ended]
        speed[at] = np.nan_to_num(now.over[ended])
        keep = ~ended
        road = road.take(keep)
        kept = {f.name: getattr(now, f.name) for f in fields(now)}
        now = _Now(**{k: v[:, keep] if k == "orders" else v[keep] for k, v in kept.items()})
    return Ends(past, speed)


def _advance(road: Road, now: _Now, time: float) -> None:
    """Move every run on by one tick."""
    runs, other = road.runs, road.other
    rest = road.rest(now.x, now.v)
    acting = np.full(now.v.shape, -1)
    for order, step in (
        (FIRST, runs.step),
        (LEFT, np.where(runs.ease, 0, -1)),
        (LAST, np.zeros_like(runs.step)),
        (FULL, road.top),
    ):
        acting = np.where(now.orders[order] <= time + 1e-9, step, acting)
    quoted, share = road.force(acting, now.v)
    # The brake that is off keeps the share it had: its cylinders are only emptying.
    share = np.where(acting < 0, road.force(runs.step, now.v)[1], share)
    goal = (other.force * quoted / share)[:, None]
    up, down = (road.up / share * TICK)[:, None], (road.down / share * TICK)[:, None]
    level = np.where(
        goal > now.level,
        np.minimum(now.level + up, goal),
        np.maximum(now.level - down, goal),
    )
    held, turning, a = road.rail(now.x, now.v), road.rotating, now.a
    for _ in range(6):
        grip = np.minimum(level - (turning * a)[:, None], held).mean(axis=1)
        a = (share * grip + rest) / (1 + (1 - share) * turning)
    most = held + (turning * a)[:, None]
    slides = (level > most + 1e-6) & (level > 0)
    now.level = np.where(slides, most * (1 - other.undershoot), level)
    off = (acting < 0) & (level.max(axis=1) <= 0) & np.isfinite(now.orders[LEFT])
    # Power goes when the handle moves, not when the brake bites.
    off &= np.isinf(now.orders[LAST])
    a = np.where(off, np.minimum(a, 0.0), a)
    _decide(road, now, time, slides.any(axis=1), acting, quoted, rest)
    spent = np.where(now.v - a * TICK <= 0, now.v / np.maximum(a, 1e-9), TICK)
    spent = np.minimum(spent, TICK)
    now.x = now.x - (now.v - a * spent / 2) * spent
    now.v = np.where(spent < TICK, 0.0, now.v - a * TICK)
    now.a = a


def _decide(road: Road, now: _Now, time: float, slides, acting, quoted, rest) -> None:
    """Let the driver order what speed, place, a slide or falling behind asks for."""
    runs, orders, settings = road.runs, now.orders, road.given.settings
    calm = np.isinf(orders[FULL])
    now.slid |= slides
    full = settings.reaction + road.dead + time
    orders[FULL] = np.where(slides & calm, full, orders[FULL])
    if road.other.helps:
        slows = (quoted + rest) / (1 + road.rotating)
        built = (acting >= 0) & (now.level.mean(axis=1) >= 0.85 * quoted)
        needed = now.v**2 / (2 * np.maximum(now.x, 1.0))
        behind = built & (needed > NOTICED * slows) & (now.v > 1.0)
        orders[FULL] = np.where(behind & np.isinf(orders[FULL]), full, orders[FULL])
    calm = np.isinf(orders[FULL])
    leave = _leave(road, now, acting)
    left = calm & np.isinf(orders[LEFT]) & (now.v <= leave)
    orders[LEFT] = np.where(left, time + road.dead, orders[LEFT])
    off = now.level.max(axis=1) <= 0
    sooner = np.where(off, np.maximum(now.v**2 - runs.last_speed**2, 0.0), 0.0)
    begin = runs.last + sooner / 2 / settings.least_deceleration
    again = calm & np.isfinite(orders[LEFT]) & np.isinf(orders[LAST]) & (now.x <= begin)
    orders[LAST] = np.where(again, time + road.dead, orders[LAST])


def _leave(road: Road, now: _Now, acting) -> np.ndarray:
    """Speed at which the driver leaves the first step to be left with what is advised."""
    runs = road.runs
    full, share = road.force(runs.step, now.v)
    low = np.where(runs.ease, road.force(np.zeros_like(runs.step), now.v)[0], 0.0)
    dead = road.dead - road.other.slow

    def lost(built, peak):
        return (built + peak) / 2 * dead + (peak**2 - low**2) / (2 * road.down)

    built = share * now.level.mean(axis=1)
    peak = np.maximum(np.minimum(built + road.up * dead, full), low)
    part = np.clip(lost(built, peak) / np.maximum(lost(full, full), 1e-9), 0.0, 1.0)
    part = np.where(now.slid, 1.0, part)
    return np.where(acting >= 0, runs.after + part * (runs.leave - runs.after), np.nan)


def promised(runs: Approaches) -> np.ndarray:
    """Tell which runs were promised any slick at all."""
    return runs.cover >= 10


def everywhere(runs: Approaches, places: int) -> tuple[Approaches, np.ndarray, np.ndarray]:
    """Repeat runs with slicks that begin at places all along them: runs, whose, onsets."""
    whose = np.repeat(np.arange(runs.speed.size), places)
    share = np.tile(np.linspace(0.02, 1.05, places), runs.speed.size)
    many = runs.take(whose)
    return many, whose, share * many.brake
