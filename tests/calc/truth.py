"""The equation of motion solved by SciPy, wheelset by wheelset, apart from our sweep.

Same cell data as the batch (mean gradient, share on listed places), but the law is
solved anew: forces straight from the definition of train and state, no tables over u.
"""

from __future__ import annotations

import numpy as np
from scipy.integrate import solve_ivp

from calc.batch import Batch
from calc.constants import GRAVITY
from calc.model import TableInput


def force_of(train, step, speed):
    """Return brake force per unit mass from the quoted rate, by definition."""
    a, b, c = train.resistance
    own = (a + b * speed + c * speed**2) / train.mass
    rate = np.interp(speed, train.steps[step].speeds, train.steps[step].rates)
    full = np.maximum(rate * (1 + train.rotating) - own, 0.0)
    return full * (1 - train.isolated_share)


def lanes_by_speed(batch: Batch, given: TableInput, step: int):
    """Return functions of speed in each lane: brake force, resistance, rail force."""
    index = batch.index
    lanes = [(train, index.train == t) for t, train in enumerate(given.trains)]
    terms = np.array([given.trains[t].resistance for t in index.train]).T
    mass = np.array([given.trains[t].mass for t in index.train])

    def force(speed):
        out = np.empty(speed.size)
        for train, mine in lanes:
            out[mine] = force_of(train, step, speed[mine])
        return out

    def resistance(speed):
        return (terms[0] + terms[1] * speed + terms[2] * speed**2) / mass

    def rail(speed, rows):
        mu = np.empty(speed.size)
        for row in set(rows.tolist()):
            mine, state = rows == row, given.states[row]
            factor = np.interp(speed[mine], state.shape_speeds, state.shape_factors)
            mu[mine] = state.plan * factor
        return given.settings.eta * GRAVITY * mu

    return force, resistance, rail


def deceleration_of_wheelsets(force, rest, rotating, phi, groups):
    """Solve a = mean of min(f - rho a, held) + rest by Newton on straight pieces.

    ``groups`` lists (share of the train, held); wheelsets that do not brake only turn.
    """
    a = np.full(force.shape, 5.0)
    for _ in range(8):
        total, slope = rest.copy(), np.zeros(force.shape)
        for share, held in groups:
            rolls = force / phi - rotating * a < held
            total += phi * share * np.where(rolls, force / phi, held)
            slope += phi * share * np.where(rolls, rotating, 0.0)
        slope += (1 - phi) * rotating
        newer = total / (1 + slope)
        if np.array_equal(newer, a):
            break
        a = newer
    else:
        raise AssertionError("the wheelsets' equation did not settle")
    return a


def truth_curve(batch: Batch, given: TableInput, step: int):
    """Return u at every node from the mark outward, by solve_ivp cell by cell."""
    force, resistance, rail = lanes_by_speed(batch, given, step)
    phi = batch.step_share[np.arange(batch.cases), step]

    def slope(cell, u):
        speed = np.sqrt(np.maximum(u, 0.0))
        held = rail(speed, batch.index.state)
        share = batch.share[cell]
        groups = [(1 - share, held)]
        if share.any():
            groups.append((share, np.minimum(held, rail(speed, batch.listed_row[cell]))))
        rest = resistance(speed) + batch.grade[cell]
        a = deceleration_of_wheelsets(force(speed), rest, batch.rotating, phi, groups)
        return 2.0 * np.maximum(a, 0.0)

    u = np.empty((batch.cells + 1 - batch.before, batch.cases))
    u[0] = batch.goal
    for i in range(batch.cells - batch.before):
        cell = batch.before + i
        found = solve_ivp(
            lambda _, y, cell=cell: slope(cell, y),
            (0.0, batch.cell),
            u[i],
            rtol=1e-10,
            atol=1e-10,
            max_step=5.0,
        )
        assert found.success, found.message
        u[i + 1] = found.y[:, -1]
    return u
