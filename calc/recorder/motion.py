"""What speeds recorded with error say about adhesion: one Gaussian model, weighed.

Between rows k and k + 1 the rail gives the train mu_k per unit weight. Translation alone
makes its true speed

    v_k = v_0 - sum over j < k of (g mu_j + rest_j) dt_j,    rest = r(v) + g i,

with **no rotating mass**: what the wheels store stays between brake and rail. The
recorded speed is v_k, less what the measured wheel lags behind while it slides, and some
noise. All unknowns are Gaussian, so that means of mu over any rows have a mean and a
variance in closed form. How slippery wheels run and how fast the rail changes is not
known: a grid of both is weighed by how likely each makes the recorded speeds.
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
    Adhesion is a random walk: mu = cumulated z, so that mean speeds are linear in z with
    -g (t_k - t_i) and the model needs one linear solve a grid point.
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
    """The covariances of one application over the whole grid of assumptions."""

    def __init__(self, trace: Trace, rest: Floats) -> None:
        time = trace.time
        sliding = _widened(trace.wsp & (trace.step > 0))
        interval = np.diff(time)
        fallen = np.concatenate([[0.0], np.cumsum(rest * interval)])
        self.seen = trace.speed + fallen - trace.speed[0]
        self.lever = -GRAVITY * np.maximum(time[:, None] - time[None, :-1], 0.0)
        self.walks = _walks(trace)
        lag = (trace.speed + 1.0) * sliding
        self.lags = np.outer(SLIPS, lag)
        self.own = np.outer(lag, lag) * np.square(SLIP_OWN * np.array(SLIPS))[:, None, None]
        self.noise = noise_of(trace.speed, sliding)
        least = _least_true(self.seen, trace.step > 0)
        self.behind = sliding & (self.seen < least - SURELY_BEHIND)
        true = trace.speed + np.maximum(least - self.seen, 0.0)
        self.locked = self.behind & (trace.speed < LOCKED * true)
        usual = float(np.median(interval))
        self.count = np.where(sliding, min(1.0, usual / LAG_LASTS), 1.0)

    def outliers(self, keep: Flags) -> Flags:
        """Return the rows far off what their neighbours make likely; a lag is no fault."""
        slip, walk = len(SLIPS) // 2, len(CHANGES) // 2
        rows = np.flatnonzero(keep & ~self.behind)
        prior = self._prior(self.walks[walk], rows)[slip]
        spread = np.diag(self.noise**2 + self.lags[slip][rows] ** 2)
        inverse = np.linalg.inv(prior + spread)
        level = self.seen[rows] + self.lags[slip][rows]
        # Each row foretold from all the others, in closed form.
        off = (inverse @ level) / np.sqrt(np.diag(inverse))
        rolling = self.lags[slip][rows] == 0
        far = np.zeros(keep.size, dtype=bool)
        far[rows] = (off > OUTLIER) | (rolling & (off < -OUTLIER))
        return far

    def _prior(self, walk: Floats, rows: Ints) -> Floats:
        """Return the covariance of speeds for each slip, (slips, rows, rows)."""
        lever = self.lever[rows]
        moved = (lever * walk) @ lever.T + FIRST_SPEED**2
        return np.asarray(moved[None] + self.own[:, rows[:, None], rows])

    def weighed(self, keep: Flags, wanted: Floats) -> Estimate:
        """Return the mean over the grid, each point by its likelihood."""
        rows = np.flatnonzero(keep)
        reach = np.cumsum(wanted[:, ::-1], axis=1)[:, ::-1]
        means, variances, likely = [], [], []
        lags = self.lags[:, rows]
        for walk in self.walks:
            prior = self._prior(walk, rows)
            spread = (self.noise**2 + lags**2)[:, :, None] * np.eye(rows.size)
            begin = np.linalg.solve(prior + spread, (self.seen[rows] + lags)[:, :, None])
            record = _Record(self.seen[rows], self.noise, lags, self.count[rows])
            found = _summit(prior, record, begin[:, :, 0])
            link = (self.lever[rows] * walk) @ reach.T
            own = np.einsum("pj,j,pj->p", reach, walk, reach)
            means.append(found.pull @ link)
            told = np.einsum("np,snm,mp->sp", link, found.certainty, link, optimize=True)
            variances.append(own - told)
            likely.append(found.likely)
        return _mixture(
            np.concatenate(means), np.concatenate(variances), np.concatenate(likely)
        )


@dataclass(frozen=True)
class _Record:
    """What was recorded, and how a row of it may lag."""

    seen: Floats
    noise: float
    lags: Floats
    count: Floats

    def of(self, speed: Floats) -> tuple[Floats, Floats, Floats]:
        """Return log density, slope and curvature of each row at true speeds."""
        return log_density(speed - self.seen, self.noise, self.lags, self.count)


@dataclass(frozen=True)
class _Summit:
    """The likeliest speeds and how sharp they are, for each slip of the grid."""

    pull: Floats
    certainty: Floats
    likely: Floats


def _summit(prior: Floats, record: _Record, pull: Floats) -> _Summit:
    """Find the likeliest speeds by Newton's method and the Gaussian that fits there.

    ``pull`` is where to begin. Rasmussen, Williams, Gaussian Processes for Machine
    Learning (2006), algorithm 3.1; http://gaussianprocess.org/gpml/
    """
    speed = _times(prior, pull)
    for _ in range(MOST_STEPS):
        _, slope, bend = record.of(speed)
        root = np.sqrt(bend)
        wish = bend * speed + slope
        inner = np.linalg.solve(_widths(prior, root), (root * _times(prior, wish))[:, :, None])
        way = wish - root * inner[:, :, 0] - pull
        pull = _best_along(prior, record, pull, way)
        former, speed = speed, _times(prior, pull)
        if np.max(np.abs(speed - former)) < CLOSE:
            break
    log_each, _, bend = record.of(speed)
    root = np.sqrt(bend)
    both = _widths(prior, root)
    certainty = root[:, :, None] * np.linalg.inv(both) * root[:, None, :]
    likely = log_each.sum(axis=1) - 0.5 * np.sum(speed * pull, axis=1)
    return _Summit(pull, certainty, likely - 0.5 * np.linalg.slogdet(both)[1])


def _best_along(prior: Floats, record: _Record, pull: Floats, way: Floats) -> Floats:
    """Go the share of Newton's step that climbs highest, for each slip of the grid."""
    tried = pull + np.array(SHARES)[:, None, None] * way
    speed = _times(prior, tried)
    height = record.of(speed)[0].sum(axis=2) - 0.5 * np.sum(speed * tried, axis=2)
    best = np.argmax(height, axis=0)
    return np.asarray(tried[best, np.arange(pull.shape[0])])


def _times(matrices: Floats, vectors: Floats) -> Floats:
    return np.asarray((matrices @ vectors[..., None])[..., 0])


def _widths(prior: Floats, root: Floats) -> Floats:
    return np.asarray(np.eye(root.shape[-1]) + root[:, :, None] * prior * root[:, None, :])


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


def _walks(trace: Trace) -> Floats:
    """Return the variance of each step of the walk, (changes, rows - 1)."""
    interval = np.diff(trace.time)
    changed = np.zeros(trace.time.size, dtype=bool)
    changed[1:] = np.diff(trace.step) != 0
    since = trace.time[:-1, None] - trace.time[None, changed]
    sudden = ((since > -1.5) & (since <= BUILD_UP)).any(axis=1)
    walks = np.outer(np.square(CHANGES), interval) + SUDDEN**2 * interval / BUILD_UP * sudden
    walks[:, 0] = FIRST_SPREAD**2
    return np.asarray(walks)
