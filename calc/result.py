"""The braking table: its columns, each described once, and what the columns mean.

A column is one field of `Table`. Beside its type stands all that anybody needs to know
of it: its axes, what it says, its unit, what an untouched cell holds, how it must be
ordered along the chain of rail states, and how a pack keeps and reads it. The empty
table (`calc.table`), the writing of results, the last pass (`calc.settle`), rounding and
file (`webapp.packs.quantise`), both look-ups and the schema all read these descriptions.

**A new column** is a field of `Table` here and a line with its formula in
`calc.chunk.figures` (or in `calc.settle`, with ``made=SETTLED``). Left without a formula
it stops the computation with its name.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field, fields, replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from .margins import brake_distance_out, cover_down, seconds_up, speed_down
from .model import Settings

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
Flags = NDArray[np.bool_]

#: Status of a cell of the table.
OK, NO_STOP, NOT_COMPUTED = 0, 1, 2

#: Axes of a case, and of what does not depend on rail and season; the two that may follow.
CASE = ("target", "season", "state", "train")
LANE = ("target", "train")
SPEED, NODE = "speed", "node"

#: Order along the chain, and with a place listed in season or more brakes isolated: a
#: worse case has no less, or no more. Where better and worse need no order: none.
RISES, FALLS, FREE = "rises", "falls", ""

#: Who makes a column: the computation of a few targets, or the last pass over the whole.
CHUNK, SETTLED = "chunk", "settled"

#: How a look-up reads a speed between two knots: a straight line rounded up, the larger,
#: the smaller, the worse status; or the column has no knots and is read as it stands.
LINE, MOST, LEAST, WORST, PLAIN = "line", "most", "least", "worst", "plain"


@dataclass(frozen=True)
class Kept:
    """How a pack keeps a column in whole numbers, and how a look-up reads it again.

    Attributes
    ----------
    between : str
        `LINE`, `MOST`, `LEAST`, `WORST` or `PLAIN`.
    whole : callable
        Rounds values to whole numbers, given one posted unit of speed [m/s]; a function
        of `calc.margins`. A `LINE` is rounded by `calc.margins.knots_raised`.
    of : callable, optional
        Makes what is kept out of the whole table, where it isn't the column itself.
    grid : int
        Kept values are multiples of this.
    codes : tuple of int
        The only values there are; empty: any.
    endless : bool
        Infinity is kept as a sign of its own, and what is not known as 0.
    answered : bool
        Whether a look-up hands the column to its caller.
    required : bool
        Whether every pack has it. A column added later is not in packs from before it:
        the look-up then leaves it out.
    """

    between: str = PLAIN
    whole: Callable[[Any, float], Floats] = lambda values, _: np.asarray(values, dtype=float)
    of: Callable[[Table], Floats] | None = None
    grid: int = 1
    codes: tuple[int, ...] = ()
    endless: bool = False
    answered: bool = True
    required: bool = True


@dataclass(frozen=True)
class Column:
    """One column of the table.

    Attributes
    ----------
    name, what, unit : str
    axes : tuple of str
        `CASE` or `LANE`, with `SPEED` or `NODE` behind it or nothing.
    empty : number, bool or callable
        What a cell holds that nobody worked out, or a function of the settings that says
        so; its type is the column's.
    along : str
        `RISES`, `FALLS` or `FREE`.
    bound : str
        Name of a column of the usual approach that this one never falls below (`RISES`)
        or exceeds (`FALLS`): no advice is later or faster than the usual approach.
    least : float
        No value is less.
    moves : bool
        Belongs to the plan as it lies on the line: a distance before the mark, or a curve
        over the nodes; it goes along when a plan is moved outward.
    made : str
        `CHUNK` or `SETTLED`.
    bit : int
        Bit of the pack's ``flags`` that keeps a yes or no; 0: none.
    kept : Kept or None
        None: not in the table file of a pack.
    """

    name: str
    what: str
    unit: str
    axes: tuple[str, ...]
    empty: Any
    along: str = FREE
    bound: str = ""
    least: float = -np.inf
    moves: bool = False
    made: str = CHUNK
    bit: int = 0
    kept: Kept | None = None

    def untouched(self, settings: Settings) -> Any:
        """Return what a cell holds that nobody worked out."""
        return self.empty(settings) if callable(self.empty) else self.empty

    def fit(self, values: NDArray[Any]) -> NDArray[Any]:
        """Add axes to values (target, season, state, train) until they fit this column."""
        return values[..., None] if len(self.axes) > len(CASE) else values


def _is(what: str, axes: tuple[str, ...], unit: str = "", **rules: Any) -> dict[str, Any]:
    """Describe a column; a cell that nobody worked out is not known unless told otherwise."""
    return {"what": what, "axes": axes, "unit": unit, "empty": np.nan, **rules}


def _speed_down(speed: Any, unit: float) -> Floats:
    return speed_down(speed, unit, 1)


def _left_at(table: Table) -> Floats:
    """Return at what speed the first step is left to run in, 0 where the plan has none.

    Where the line falls a run-in gathers speed: the driver leaves the step slower.
    """
    return np.where(table.run_in > 0, np.fmin(table.run_in, table.after_speed), 0.0)


@dataclass(frozen=True)
class Table:
    """The result of `calc.table.build_table`; no array of it can be written into.

    Axes: T targets (stops, buffers and lower speeds, in the order given), 2 seasons (0
    listed places out of season, 1 in season), S rail states from the best to the worst,
    V trains, K speeds (every whole posted unit from 1 up), N nodes. A **case** is one
    target in one season on one rail state with one train; a cell of a ``SPEED`` column is
    a case at one approach speed. Figures that need a stop at all are NaN unless the
    status is ok. ``nodes``, shape (N,), are the distances before the mark that curves are
    given at. [m]

    The columns and their meaning stand at the fields below; `COLUMNS` lists them.
    """

    nodes: Floats
    status: NDArray[np.uint8] = field(
        metadata=_is(
            "0 ok, 1 no stop possible, 2 not computed",
            (*CASE, SPEED),
            empty=np.uint8(NOT_COMPUTED),
            kept=Kept(WORST, codes=(OK, NO_STOP, NOT_COMPUTED)),
        )
    )
    brake: Floats = field(
        metadata=_is(
            "brake point before the mark",
            (*CASE, SPEED),
            "m",
            along=RISES,
            bound="usual",
            moves=True,
            kept=Kept(LINE, grid=5),
        )
    )
    seconds: Floats = field(
        metadata=_is(
            "time lost against the usual approach",
            (*CASE, SPEED),
            "s",
            along=RISES,
            least=0.0,
            kept=Kept(MOST, lambda values, _: seconds_up(values)),
        )
    )
    cover: Floats = field(
        metadata=_is(
            "length of one slick covered wherever it begins; inf: all the way to the limit",
            (*CASE, SPEED),
            "m",
            kept=Kept(LEAST, lambda values, _: cover_down(values), grid=10, endless=True),
        )
    )
    usual: Floats = field(
        metadata=_is(
            "brake point of the usual approach: dry rail, usual step",
            (*LANE, SPEED),
            "m",
            kept=Kept(LINE, grid=5, answered=False),
        )
    )
    step: Ints = field(
        metadata=_is(
            "first step", CASE, "index of the train's steps", empty=0, kept=Kept(), along=FALLS
        )
    )
    last_step: Ints = field(
        metadata=_is(
            "step of the last application",
            CASE,
            "index of the train's steps",
            empty=0,
            kept=Kept(answered=False),
        )
    )
    run_in: Floats = field(
        metadata=_is(
            "speed at which the first step is released to run in; 0: no run-in",
            CASE,
            "m/s",
            empty=0.0,
            kept=Kept(whole=_speed_down, of=_left_at),
        )
    )
    ease_at: Floats = field(
        metadata=_is(
            "speed at which the first step is eased to the last; 0: no easing",
            CASE,
            "m/s",
            empty=0.0,
            kept=Kept(whole=_speed_down),
        )
    )
    aim_short: Floats = field(
        metadata=_is(
            "how far short of the mark the first application aims",
            CASE,
            "m",
            empty=0.0,
            kept=Kept(whole=lambda values, _: brake_distance_out(values, 1.0)),
        )
    )
    expect_wsp: Flags = field(
        metadata=_is(
            "the lightest step asks for more than the rail gives", CASE, empty=False, bit=1
        )
    )
    nothing_added: Flags = field(
        metadata=_is(
            "the advice is the usual approach", CASE, empty=False, made=SETTLED, bit=2
        )
    )
    less_cover: Flags = field(
        metadata=_is("less cover than asked for", CASE, empty=False, bit=4)
    )
    no_state_in_hand: Flags = field(
        metadata=_is(
            "the advice fails a driver who guessed the rail one state too good",
            CASE,
            empty=lambda settings: settings.quiet_from >= 0,
            bit=8,
        )
    )
    no_room: Flags = field(
        metadata=_is(
            "the advice leaves no room for a weak brake or a late hand, where others do",
            CASE,
            empty=False,
            bit=16,
        )
    )
    approach_speed: Floats = field(
        metadata=_is(
            "highest speed at which a train meets its brake point", CASE, "m/s", made=SETTLED
        )
    )
    advised: Floats = field(
        metadata=_is(
            "speed of the plan",
            (*CASE, NODE),
            "m/s",
            along=FALLS,
            bound="usual_curve",
            moves=True,
        )
    )
    ceiling: Floats = field(
        metadata=_is("speed up to which the cover of the plan holds", (*CASE, NODE), "m/s")
    )
    cover_by_onset: Floats = field(
        metadata=_is("cover for a slick that begins at the node", (*CASE, NODE), "m")
    )
    usual_curve: Floats = field(
        metadata=_is("speed of the usual approach", (*LANE, NODE), "m/s")
    )
    handle_distance: Floats = field(
        metadata=_is(
            "where the first application is left; NaN: it is the only one",
            CASE,
            "m",
            moves=True,
        )
    )
    handle_speed: Floats = field(metadata=_is("speed there", CASE, "m/s"))
    after_speed: Floats = field(
        metadata=_is("speed when the force of the first application has gone", CASE, "m/s")
    )
    last_distance: Floats = field(metadata=_is("where the last begins", CASE, "m", moves=True))
    forward_stop: Floats = field(
        metadata=_is(
            "where the forward run from the approach speed stood, before the mark",
            CASE,
            "m",
            made=SETTLED,
        )
    )

    def __post_init__(self) -> None:
        """Lock every array: a table is handed about, and nobody changes it in place."""
        for name in ("nodes", *(column.name for column in COLUMNS)):
            getattr(self, name).setflags(write=False)


#: Every column of the table, as described above.
COLUMNS: tuple[Column, ...] = tuple(
    Column(name=one.name, **one.metadata) for one in fields(Table) if one.metadata
)


def only_advised(table: Table, status: NDArray[np.uint8]) -> Table:
    """Take away every figure of an approach that has no advice."""
    ok = status == OK
    figures = {
        one.name: np.where(ok, getattr(table, one.name), np.nan)
        for one in COLUMNS
        if one.axes == (*CASE, SPEED) and one.name != "status"
    }
    return replace(table, status=status, **figures)
