"""What speeds recorded with error say about adhesion: one model, weighed.

Between rows k and k + 1 the rail gives the train mu_k per unit weight. Translation alone
makes its true speed

    v_k = v_0 - sum over j < k of (g mu_j + rest_j) dt_j,    rest = r(v) + g i,

with **no rotating mass**: what the wheels store stays between brake and rail. The
recorded speed is v_k, less what the measured wheel lags behind while it slides, and some
noise (`lagging`). Unknowns are Gaussian before anything is seen; after it a Gaussian is
fitted at the likeliest point (Laplace's approximation), which gives means of mu over any
rows with a variance. How slippery wheels run and how fast the rail changes is not known:
a grid of both is weighed by how likely each makes the recorded speeds.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from ..constants import GRAVITY
from .lagging import log_density
from .trace import Flags, Ints, Trace

Floats = NDArray[np.float64]

#: Spread of adhesion used, before anything is known. Assumption. [-]
FIRST_SPREAD = 0.08
#: Change of adhesion used, each second: slow and fast rails. Assumptions. [-]
CHANGES = (0.003, 0.010)
#: Sudden change where a step begins, a slide begins or ends. Assumption. [-]
SUDDEN = 0.04
#: How long a brake takes to build up or fall off. Assumption. [s]
BUILD_UP = 3.0
#: Mean slip of the measured wheel, as a share of speed. Assumptions. [-]
SLIPS = (0.004, 0.02, 0.06, 0.13)
#: Lag that never goes while a slide lasts, as a share of that mean. Assumption. [-]
SLIP_OWN = 0.3
#: How long a lag lasts: rows of one slide that follow sooner are no news. Assumption. [s]
LAG_LASTS = 1.7
#: Adhesion is taken as constant for so long, but while a brake builds up. Assumption. [s]
GROUP = 2.5
#: Newton steps at most, and how close is found. [-, m/s]
MOST_STEPS, CLOSE = 25, 0.02
#: Shares of a Newton step that are tried.
SHARES = (1.0, 0.4, 0.1)
#: Least noise of a recorded speed. Assumption. [m/s]
LEAST_NOISE = 0.03
#: Spread of the first speed about its record. [m/s]
FIRST_SPEED = 10.0
#: A row this many standard deviations off is left out, as after a locked wheel. [-]
OUTLIER = 4.5
#: So far below a later row, a row of a slide is sure to lag. Assumption. [m/s]
SURELY_BEHIND = 1.0
#: Below this share of the train's speed a wheel is locked and says nothing. [-]
LOCKED = 0.5


@dataclass(frozen=True)
class Estimate:
    """Means of adhesion used; arrays (pieces,)."""

    mean: Floats
    spread: Floats


def noise_of(speed: Floats, sliding: Flags) -> float:
    """Return the standard deviation of a recorded speed while no wheel slides. [m/s].

    From second differences, which a steady deceleration leaves empty, and from the
    steps of the recorder's display.
    """
    steps = np.abs(np.diff(np.unique(speed)))
    steps = steps[steps > 1e-6]
    display = float(steps.min()) / np.sqrt(12.0) if steps.size else 0.0
    rolling = ~(sliding[2:] | sliding[1:-1] | sliding[:-2])
    seconds = np.abs(np.diff(speed, 2))[rolling]
    seen = 1.4826 * float(np.median(seconds)) / np.sqrt(6.0) if seconds.size >= 5 else 0.0
    return max(LEAST_NOISE, display, seen)


def estimate(trace: Trace, rest: Floats, wanted: Floats) -> Estimate:
    """Return mean adhesion used over sets of rows, and its standard deviation.

    Parameters
    ----------
    trace : Trace
        One application of the brake.
    rest : numpy.ndarray, shape (rows - 1,)
        Deceleration that rail force does not make, r + g i, between rows. [m/s2]
    wanted : numpy.ndarray, shape (pieces, rows - 1)
        Weight of each interval in each mean.

    Notes
    -----
    Adhesion is a random walk in steps of a few seconds: mu = cumulated z, and true speeds
    are linear in z, so that a few dozen unknowns stand for any length of trace.
    """
    model = _Model(trace, rest)
    keep = ~model.locked
    for _ in range(2):
        far = model.outliers(keep)
        if not far.any():
            break
        keep &= ~far
    return model.weighed(keep, wanted)


class _Model:
    """One application as unknowns: first speed, lag that stays, steps of the walk."""

    def __init__(self, trace: Trace, rest: Floats) -> None:
        sliding = _widened(trace.wsp & (trace.step > 0))
        interval = np.diff(trace.time)
        fallen = np.concatenate([[0.0], np.cumsum(rest * interval)])
        self.seen = trace.speed + fallen - trace.speed[0]
        lag = (trace.speed + 1.0) * sliding
        self.lags = np.outer(SLIPS, lag)
        self.group, variance = _walks(trace)
        groups = variance.shape[1]
        stay = np.zeros((trace.time.size, groups))
        stay[np.arange(1, trace.time.size), self.group] = interval
        # What a step of the walk adds holds on in all groups after it.
        fall = -GRAVITY * np.cumsum(np.cumsum(stay, axis=0)[:, ::-1], axis=1)[:, ::-1]
        self.form = np.column_stack([np.ones(trace.time.size), lag, fall])
        self.prior = np.concatenate([_prior(slip, variance) for slip in SLIPS])
        self.noise = noise_of(trace.speed, sliding)
        least = _least_true(self.seen, trace.step > 0)
        self.behind = sliding & (self.seen < least - SURELY_BEHIND)
        true = trace.speed + np.maximum(least - self.seen, 0.0)
        self.locked = self.behind & (trace.speed < LOCKED * true)
        usual = float(np.median(interval))
        self.count = np.where(sliding, min(1.0, usual / LAG_LASTS), 1.0)

    def outliers(self, keep: Flags) -> Flags:
        """Return the rows far off what their neighbours make likely; a lag is no fault."""
        slip = len(SLIPS) // 2
        rows = np.flatnonzero(keep & ~self.behind)
        form, lag = self.form[rows], self.lags[slip][rows]
        sure = 1.0 / (self.noise**2 + lag**2)
        prior = self.prior[slip * len(CHANGES) + len(CHANGES) // 2]
        part = sure[:, None] * form
        known = np.linalg.solve(np.diag(1.0 / prior) + form.T @ part, part.T)
        # Each row foretold from all the others, in closed form.
        level = self.seen[rows] + lag
        pull = sure * level - part @ (known @ level)
        certain = sure - np.einsum("nk,kn->n", part, known)
        off = pull / np.sqrt(certain)
        far = np.zeros(keep.size, dtype=bool)
        far[rows] = (off > OUTLIER) | ((lag == 0) & (off < -OUTLIER))
        return far

    def weighed(self, keep: Flags, wanted: Floats) -> Estimate:
        """Return the mean over the grid, each point by its likelihood."""
        rows = np.flatnonzero(keep)
        lags = np.repeat(self.lags[:, rows], len(CHANGES), axis=0)
        record = _Record(self.seen[rows], self.noise, lags, self.count[rows])
        found = _summit(self.form[rows], self.prior, record)
        shares = np.zeros((wanted.shape[0], self.prior.shape[1] - 2))
        np.add.at(shares.T, self.group, wanted.T)
        reach = np.cumsum(shares[:, ::-1], axis=1)[:, ::-1]
        reach = np.column_stack([np.zeros((reach.shape[0], 2)), reach])
        told = np.linalg.solve(
            found.bend, np.broadcast_to(reach.T, (len(lags), *reach.T.shape))
        )
        variances = np.einsum("pk,gkp->gp", reach, told)
        return _mixture(found.unknowns @ reach.T, variances, found.likely)


@dataclass(frozen=True)
class _Record:
    """What was recorded, and how a row of it may lag at each point of the grid."""

    seen: Floats
    noise: float
    lags: Floats
    count: Floats

    def of(self, speed: Floats) -> tuple[Floats, Floats, Floats]:
        """Return log density, slope and curvature of each row at true speeds."""
        return log_density(speed - self.seen, self.noise, self.lags, self.count)


@dataclass(frozen=True)
class _Summit:
    """The likeliest unknowns, how sharp they are, and the log evidence; each grid point."""

    unknowns: Floats
    bend: Floats
    likely: Floats


def _summit(form: Floats, prior: Floats, record: _Record) -> _Summit:
    """Find the likeliest unknowns by Newton's method and the Gaussian that fits there."""
    sure = 1.0 / (record.noise**2 + record.lags**2)
    level = sure * (record.seen + record.lags)
    unknowns = _solved(_bend(form, prior, sure), level @ form)
    for _ in range(MOST_STEPS):
        _, slope, bend = record.of(unknowns @ form.T)
        way = _solved(_bend(form, prior, bend), slope @ form - unknowns / prior)
        unknowns, moved = _best_along(form, prior, record, unknowns, way)
        if moved < CLOSE:
            break
    log_each, _, bend = record.of(unknowns @ form.T)
    whole = _bend(form, prior, bend)
    likely = log_each.sum(axis=1) - 0.5 * np.sum(unknowns**2 / prior + np.log(prior), axis=1)
    return _Summit(unknowns, whole, likely - 0.5 * np.linalg.slogdet(whole)[1])


def _best_along(
    form: Floats, prior: Floats, record: _Record, unknowns: Floats, way: Floats
) -> tuple[Floats, float]:
    """Go the share of Newton's step that climbs highest; say how far speeds moved."""
    tried = unknowns + np.array(SHARES)[:, None, None] * way
    height = record.of(tried @ form.T)[0].sum(axis=2) - 0.5 * np.sum(tried**2 / prior, axis=2)
    best = np.argmax(height, axis=0)
    gone = tried[best, np.arange(unknowns.shape[0])]
    return gone, float(np.max(np.abs((gone - unknowns) @ form.T)))


def _bend(form: Floats, prior: Floats, sure: Floats) -> Floats:
    """Return the curvature of the log posterior, sign turned, at each grid point."""
    # Not `@`: these products are so small that starting threads for them costs more.
    whole = np.einsum("gkn,nl->gkl", form.T * sure[:, None, :], form)
    corner = np.arange(prior.shape[1])
    whole[:, corner, corner] += 1.0 / prior
    return np.asarray(whole)


def _solved(matrices: Floats, vectors: Floats) -> Floats:
    return np.asarray(np.linalg.solve(matrices, vectors[..., None])[..., 0])


def _mixture(means: Floats, variances: Floats, likely: Floats) -> Estimate:
    share = np.exp(likely - likely.max())
    share /= share.sum()
    mean = share @ means
    variance = share @ (np.maximum(variances, 0.0) + (means - mean) ** 2)
    return Estimate(mean, np.sqrt(variance))


def _least_true(seen: Floats, braked: Flags) -> Floats:
    """Return what the true speed less rest is at least, by the rows still to come.

    A brake never drives a train on, so nothing later can be above; medians of three
    keep a single false row from speaking for all before it.
    """
    ends = np.concatenate([seen[:1], seen, seen[-1:]])
    middle = np.median(np.stack([ends[:-2], ends[1:-1], ends[2:]]), axis=0)
    later = np.where(braked, middle, -np.inf)
    return np.asarray(np.maximum.accumulate(later[::-1])[::-1])


def _widened(flags: Flags) -> Flags:
    """Return the flags with a row more on both sides: a flag comes late and goes late."""
    wide = flags.copy()
    wide[1:] |= flags[:-1]
    wide[:-1] |= flags[1:]
    return wide


def _walks(trace: Trace) -> tuple[Ints, Floats]:
    """Return each interval's group, and the variance of each step of the walk.

    Intervals are grouped to GROUP seconds, except while a brake builds up or falls off.
    """
    interval = np.diff(trace.time)
    changed = np.zeros(trace.time.size, dtype=bool)
    changed[1:] = np.diff(trace.step) != 0
    since = trace.time[:-1, None] - trace.time[None, changed]
    sudden = np.any((since > -1.5) & (since <= BUILD_UP), axis=1, keepdims=True)[:, 0]
    group = np.zeros(interval.size, dtype=np.int64)
    begun = trace.time[0]
    for k in range(1, interval.size):
        full = trace.time[k] - begun >= GROUP - 1e-6
        new = full or bool(sudden[k]) or bool(sudden[k - 1])
        begun = trace.time[k] if new else begun
        group[k] = group[k - 1] + new
    first = np.flatnonzero(np.diff(group, prepend=-1))
    middle = np.bincount(group, trace.time[:-1] + 0.5 * interval) / np.bincount(group)
    apart = np.diff(middle, prepend=middle[0])
    walks = np.outer(np.square(CHANGES), apart)
    walks += SUDDEN**2 / BUILD_UP * interval[first] * sudden[first]
    walks[:, 0] = FIRST_SPREAD**2
    return group, np.asarray(walks)


def _prior(slip: float, walks: Floats) -> Floats:
    """Return the variances of all unknowns for one slip, (changes, unknowns)."""
    ends = np.full((walks.shape[0], 1), 1.0)
    return np.column_stack([FIRST_SPEED**2 * ends, (SLIP_OWN * slip) ** 2 * ends, walks])
