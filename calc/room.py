"""Room for a weak brake and a late hand, where it makes no advice later or heavier.

Every case is worked out twice: for the quoted figures, and with the room a route asks
for (`calc.worked`). A plan is never withdrawn, begun later or made heavier only for the
sake of room: there the plan without it stands, and the table says so by case.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from .driven import driven, hand_driven
from .gradient import held_on_gradient
from .model import TableInput
from .order import less_isolated
from .result import CASE, COLUMNS, OK, Flags, Floats, Table, only_advised
from .run_in import none_quicker
from .settle import approach_speeds, in_order_of_chain, ordered

#: Brake points nearer to one another than this are the same [m].
_SAME = 0.5
#: Below this share of the speed trains come at, brake points may be raised so far [-, m].
FAR_SLOWER, RAISED = 0.5, 30.0
#: A mark farther out than this, of the mark without room, is another plan [-, m].
FARTHER, FARTHER_M = 1.5, 150.0
#: Speeds by which a train may be faster than expected and still has room [m/s].
FASTER = 1.4


def joined(quoted: TableInput, plain: Table, tired: TableInput, roomy: Table) -> Table:
    """Return the plans with room, and those without where room cannot be had.

    Parameters
    ----------
    quoted, tired : TableInput
        What the two were worked out for.
    plain : Table
        Plans without room, in their order along the chain, not driven.
    roomy : Table
        Plans with room, as worked out.

    Returns
    -------
    Table
        Ordered and driven; ``no_room`` tells where the plan without room stands.
    """
    has = (roomy.status == OK).any(axis=-1)
    # What has no plan here must not lighten the step of what is worse.
    roomy = replace(roomy, step=np.where(has, roomy.step, plain.step))
    roomy = driven(tired, in_order_of_chain(tired, roomy, alone=True), alone=True)
    room = _ordered_room(quoted, plain, roomy, _fits(quoted, plain, roomy))
    table = _picked(plain, roomy, room)
    status = table.status
    table = only_advised(replace(table, **ordered(quoted, table)), status)
    speed = approach_speeds(quoted, table)
    again = ~room | (np.nan_to_num(speed) != np.nan_to_num(table.approach_speed))
    table = replace(table, approach_speed=speed)
    table = driven(quoted, table, again & ~room)
    table = driven(tired, table, again & room)
    table = none_quicker(quoted, table, tired, room)
    table = held_on_gradient(quoted, table, tired, room)
    table = hand_driven(quoted, table)
    advised = (table.status == OK).any(axis=-1)
    return replace(table, no_room=advised & ~room)


def _fits(given: TableInput, plain: Table, roomy: Table) -> Flags:
    """Tell which plans with room have the step of those without, and begin no later."""
    speeds = np.asarray(given.speeds)
    had, has = plain.status == OK, roomy.status == OK
    most = np.nan_to_num(plain.approach_speed, nan=np.inf)[..., None] + FASTER
    lost = had & ~has & (speeds <= most)
    later = had & has & (roomy.brake < plain.brake - _slack(speeds, plain.approach_speed))
    out = (had & has).any(axis=-1) & ~lost.any(axis=-1) & ~later.any(axis=-1)
    out &= np.isfinite(roomy.approach_speed) | ~np.isfinite(plain.approach_speed)
    out &= roomy.expect_wsp <= plain.expect_wsp
    most_m = FARTHER * _met_at(given, plain) + FARTHER_M
    out &= ~(_met_at(given, roomy) > most_m)
    return np.asarray(out & (roomy.step == plain.step))


def _met_at(given: TableInput, table: Table) -> Floats:
    """Return where each case's train meets its brake point; NaN where it has none. [m]."""
    speeds = np.asarray(given.speeds)
    out = np.full(table.step.shape, np.nan)
    for case in zip(*np.nonzero(np.isfinite(table.approach_speed)), strict=True):
        known = np.isfinite(table.brake[case])
        if known.any():
            out[case] = np.interp(
                table.approach_speed[case], speeds[known], table.brake[case][known]
            )
    return out


def _ordered_room(given: TableInput, plain: Table, roomy: Table, room: Flags) -> Flags:
    """Give room up where a worse case, which may begin no later, has none."""
    room, speeds = room.copy(), np.asarray(given.speeds)
    while True:
        brake = np.where(room[..., None], roomy.brake, plain.brake)
        status = np.where(room[..., None], roomy.status, plain.status)
        step = np.where(room, roomy.step, plain.step)
        gives = np.zeros_like(room)
        for better, worse in _pairs(given):
            slack = _slack(speeds, plain.approach_speed[worse])
            late = brake[worse] < brake[better] - slack
            late |= (status[worse] == OK) & (status[better] != OK)
            gives[better] |= late.any(axis=-1) | (step[worse] > step[better])
        gives &= room
        if not gives.any():
            return room
        room &= ~gives


def _slack(speeds: Floats, approach: Floats) -> Floats:
    """Return by how much a brake point may be raised to keep an order, (..., speeds). [m].

    Near the mark curves of two plans cross: what a train far slower than expected gets
    is raised a little there. At the speeds that trains come with nothing is.
    """
    return np.where(speeds < FAR_SLOWER * approach[..., None], RAISED, _SAME)


def _pairs(given: TableInput) -> list[tuple[tuple[slice | int, ...], ...]]:
    """Return slices of better cases, each with those that may begin no later than they."""
    every = slice(None)
    out: list[tuple[tuple[slice | int, ...], ...]] = [
        ((every, 0), (every, 1)),
        ((every, every, slice(None, -1)), (every, every, slice(1, None))),
    ]
    for more, fewer in enumerate(less_isolated(given.trains)):
        if fewer >= 0:
            out.append(((every, every, every, fewer), (every, every, every, more)))
    return out


def _picked(plain: Table, roomy: Table, room: Flags) -> Table:
    """Take each case from one of two tables; what all rails share from the plain one."""
    cells = {}
    for one in COLUMNS:
        if one.axes[: len(CASE)] == CASE:
            with_room, without = getattr(roomy, one.name), getattr(plain, one.name)
            cells[one.name] = np.where(one.fit(room), with_room, without)
    # Where the usual approach with the quoted brake is not enough, the card says more.
    nothing = plain.nothing_added & (roomy.nothing_added | ~room)
    same = (nothing & room)[..., None]
    seconds: Floats = np.where(same, plain.seconds, cells["seconds"])
    cells["status"] = cells["status"].astype(np.uint8)
    cells["brake"] = np.fmax(cells["brake"], plain.brake)
    cells["seconds"] = np.where(cells["status"] == OK, seconds, np.nan)
    cells["nothing_added"] = nothing
    cells["no_state_in_hand"] = plain.no_state_in_hand
    return replace(plain, **cells)
