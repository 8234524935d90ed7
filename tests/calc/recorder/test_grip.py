"""The trace reader on synthetic traces: intervals that hold, no low grip on dry rail."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
import pytest

from calc.recorder import Doubt, Piece, Trace, grip_from_trace
from tests.calc import cases

from . import simulate
from .simulate import Faults, G, Road

CASES = 500
DRY = 120


@dataclass(frozen=True)
class Read:
    """A piece as read, and the truth over the same time and at its place."""

    case: int
    piece: Piece
    truth: float
    astray: float
    fixes: bool

    @property
    def held(self) -> bool:
        return self.piece.low <= self.truth <= self.piece.high


def read_case(run, road, faults, rng, case) -> tuple[list[Read], list[Read]]:
    kept = simulate.recorded(run, faults, rng)
    train, line = simulate.the_train(rng), simulate.the_line(road, rng)
    grip = grip_from_trace(kept.trace, train, line, start=kept.start)

    def read(piece: Piece) -> Read:
        begun, over = kept.moment(piece.begun), kept.moment(piece.over)
        astray = piece.start - run.place_at(begun)
        return Read(case, piece, run.mean_used(begun, over), astray, faults.fixes)

    return [read(p) for p in grip.pieces], [read(p) for p in grip.slides]


def random_faults(rng: np.random.Generator) -> Faults:
    return Faults(
        display=rng.choice([1 / 3.6, 0.44704, 0.1 / 3.6]),
        fixes=bool(rng.random() < 0.5),
        jump=bool(rng.random() < 0.15),
    )


@pytest.fixture(scope="module")
def slippery() -> tuple[list[Read], list[Read]]:
    """500 stops on slippery rail, each recorded with its own faults; seeded."""
    rng = np.random.default_rng(20_261_125)
    roads = [
        simulate.random_road(
            rng, rng.choice([0.02, 0.03, 0.045, 0.06]), rng.choice([80.0, 250.0, 800.0])
        )
        for _ in range(CASES)
    ]
    steps = rng.choice([2, 3], CASES)
    runs = simulate.drive(roads, rng.uniform(11.0, 24.0, CASES), steps)
    pieces, slides = [], []
    for case, (run, road) in enumerate(zip(runs, roads, strict=True)):
        some, whole = read_case(run, road, random_faults(rng), rng, case)
        pieces += some
        slides += whole
    return pieces, slides


def share_by_case(reads: list[Read]) -> float:
    """Mean over cases of the share of a case's intervals that hold the truth."""
    cases_read = {read.case for read in reads}
    shares = [np.mean([r.held for r in reads if r.case == case]) for case in cases_read]
    assert len(shares) > 0.8 * CASES
    return float(np.mean(shares))


def test_ninety_per_cent_intervals_hold_the_truth(slippery):
    pieces = [read for read in slippery[0] if read.piece.limited]
    assert len(pieces) > 2_000
    assert 0.85 <= np.mean([read.held for read in pieces]) <= 0.95
    assert 0.85 <= share_by_case(pieces) <= 0.95


def test_whole_slides_hold_the_truth_and_are_sharp(slippery):
    slides = [read for read in slippery[1] if read.piece.limited]
    assert 0.85 <= share_by_case(slides) <= 0.96
    widths = [(read.piece.high - read.piece.low) / 2 for read in slides]
    assert np.median(widths) < 0.004
    assert abs(np.mean([r.piece.adhesion - r.truth for r in slides])) < 0.001


def test_lower_bounds_are_bounds(slippery):
    bounds = [read for read in slippery[0] if not read.piece.limited]
    assert len(bounds) > 200
    assert np.mean([read.piece.low <= read.truth for read in bounds]) >= 0.93
    assert all(np.isinf(read.piece.high) for read in bounds)


def test_pieces_stand_where_the_train_was(slippery):
    fixed = [abs(read.astray) for read in slippery[0] if read.fixes]
    assert np.percentile(fixed, 95) < 15.0


def test_dry_runs_never_claim_low_grip():
    """Wheel-slide protection that chatters on good rail is not the rail's fault."""
    rng = np.random.default_rng(7)
    roads = [simulate.random_road(rng, 0.22, 250.0) for _ in range(DRY)]
    runs = simulate.drive(roads, rng.uniform(11.0, 24.0, DRY), rng.choice([1, 2], DRY))
    claims, held = 0, []
    for case, (run, road) in enumerate(zip(runs, roads, strict=True)):
        assert not run.wsp.any()
        chatter = np.zeros(run.time.size, dtype=bool)
        for begin in rng.uniform(16.0, run.time[-1], 2):
            length = rng.uniform(0.5, 6.0)
            chatter |= (run.time >= begin) & (run.time < begin + length)
        noisy = replace(run, wsp=chatter if case % 2 else run.wsp)
        reads, _ = read_case(noisy, road, random_faults(rng), rng, case)
        claims += sum(read.piece.limited for read in reads)
        held += [read.piece.low <= read.truth for read in reads]
    assert claims == 0
    assert len(held) > 2 * DRY
    assert np.mean(held) >= 0.93


def steady(rate=0.5, speed=25.0, step=2, wsp=True, interval=1.0) -> Trace:
    """A trace without any fault: 12 s at speed, then a steady rate to the stand."""
    time = np.arange(0.0, 12.0 + speed / rate, interval)
    braked = np.maximum(time - 12.0, 0.0)
    on = time >= 12.0
    return Trace(
        time=time,
        speed=np.maximum(speed - rate * braked, 0.0),
        step=np.where(on, step, 0),
        wsp=on & wsp,
        place=np.full(time.size, np.nan),
    )


def the_slide(trace, train, gradient=0.0, **options) -> Piece:
    grip = grip_from_trace(trace, train, cases.line(gradient), **options)
    (slide,) = grip.slides
    return slide


@pytest.mark.parametrize("gradient", [0.0, -1 / 75, 1 / 100])
@pytest.mark.parametrize("rotating", [0.0, 0.12])
def test_gradient_is_taken_out_and_rotating_mass_is_not(gradient, rotating):
    """mu g = a - r - g i; by hand, with no resistance."""
    train = cases.train((0.8, 0.9, 1.0), rotating=rotating)
    slide = the_slide(steady(), train, gradient)
    assert slide.limited
    assert slide.adhesion == pytest.approx((0.5 - G * gradient) / G, abs=7e-4)
    assert slide.high - slide.low < 0.01


def test_resistance_is_no_adhesion():
    train = cases.train((0.8, 0.9), resistance=(10_000.0, 0.0, 0.0))
    slide = the_slide(steady(), train)
    assert slide.adhesion == pytest.approx((0.5 - 0.1) / G, abs=7e-4)


def test_had_as_much_as_was_asked_is_only_a_bound():
    train = cases.train((0.3, 0.5, 0.9))
    assert not the_slide(steady(step=2), train).limited
    assert the_slide(steady(step=3), train).limited
    assert the_slide(steady(step=4), train).limited  # emergency


def test_without_a_brake_or_a_slide_nothing_is_claimed():
    train, line = cases.train(), cases.line()
    assert grip_from_trace(steady(step=0), train, line).pieces == ()
    grip = grip_from_trace(steady(wsp=False), train, line)
    assert grip.slides == ()
    assert not any(piece.limited for piece in grip.pieces)
    assert all(0 < piece.low < 0.5 / G + 0.003 for piece in grip.pieces)


def test_faster_samples_say_the_same():
    train = cases.train((0.8, 0.9))
    slow, fast = (the_slide(steady(interval=t), train) for t in (1.0, 0.1))
    assert fast.adhesion == pytest.approx(slow.adhesion, abs=1e-3)


def test_a_locked_wheel_does_not_count_as_braking():
    whole = steady()
    speed = whole.speed.copy()
    speed[20:26] = 0.0
    slide = the_slide(replace(whole, speed=speed), cases.train((0.8, 0.9)))
    assert slide.low <= 0.5 / G <= slide.high
    assert slide.adhesion == pytest.approx(0.5 / G, abs=0.003)


def test_missing_rows_widen_but_do_not_move():
    whole = steady(interval=0.5)
    rng = np.random.default_rng(3)
    few = whole.take(np.sort(rng.choice(whole.time.size, whole.time.size // 2, replace=False)))
    train = cases.train((0.8, 0.9))
    for piece in grip_from_trace(few, train, cases.line()).pieces:
        if piece.limited:
            assert piece.low <= 0.5 / G <= piece.high


def test_nothing_is_read_across_a_jump_of_the_clock():
    whole = steady()
    time = whole.time + np.where(whole.time >= 35.0, 3600.0, 0.0)
    fixes = 25.0 * whole.time
    train, line = cases.train((0.8, 0.9)), cases.line()
    grip = grip_from_trace(replace(whole, time=time, place=fixes), train, line)
    assert all(piece.over - piece.begun < 60.0 for piece in grip.pieces)
    assert {piece.begun > 3600.0 for piece in grip.pieces} == {False, True}
    # Without fixes nobody knows where the train was after it.
    lost = grip_from_trace(replace(whole, time=time), train, line)
    assert {piece.begun > 3600.0 for piece in lost.pieces} == {False}


def test_doubt_widens():
    train = cases.train((0.8, 0.9), resistance=(10_000.0, 0.0, 0.0))
    sure = the_slide(steady(), train, doubt=Doubt(0.0, 0.0, 0.0))
    unsure = the_slide(steady(), train, doubt=Doubt(0.5, 0.005, 0.05))
    assert unsure.high - unsure.low > 2 * (sure.high - sure.low)


def changed(**columns) -> Trace:
    return replace(steady(), **columns)


def with_row(name: str, row: int, value: float) -> Trace:
    column = np.array(getattr(steady(), name), dtype=float)
    column[row] = value
    return changed(**{name: column})


@pytest.mark.parametrize(
    ("trace", "words"),
    [
        (with_row("time", 4, np.nan), "row 5: the time is not known"),
        (with_row("speed", 4, np.nan), "row 5: the speed is not known"),
        (with_row("speed", 4, -1.0), "row 5: the speed is below 0"),
        (with_row("speed", 4, 400.0), "row 5: the speed is below 0 or impossible"),
        (with_row("step", 4, -1), "row 5: the brake step is below 0"),
        (with_row("time", 4, 2.5), "row 5: the time does not rise"),
        (with_row("time", 4, 3.0), "row 5: the time does not rise"),
        (changed(place=np.inf + 0 * steady().time), "row 1: the place is endless"),
        (changed(place=-25.0 * steady().time), "row 4: the place goes back"),
        (steady().take(slice(0, 2)), "at least 3 rows"),
        (steady().take(slice(0, 0)), "at least 3 rows"),
        (changed(wsp=np.zeros(3, dtype=bool)), "as many of each column"),
    ],
)
def test_a_trace_that_cannot_be_is_refused(trace, words):
    with pytest.raises(ValueError, match=words):
        grip_from_trace(trace, cases.train(), cases.line())


@pytest.mark.parametrize(
    ("train", "line", "piece", "words"),
    [
        (cases.train(mass=0.0), cases.line(), 100.0, "mass"),
        (cases.train(mass=float("nan")), cases.line(), 100.0, "mass"),
        (cases.train(), cases.line(float("nan")), 100.0, "gradient"),
        (cases.train(), cases.line(), 0.0, "length of a piece"),
    ],
)
def test_a_train_or_line_that_cannot_be_is_refused(train, line, piece, words):
    with pytest.raises(ValueError, match=words):
        grip_from_trace(steady(), train, line, piece=piece)


def test_the_simulated_stop_is_the_textbook_one():
    """The truth itself: on rail that gives 0.04 throughout, v v / 2 s is 0.034 g."""
    road = Road(np.full(500, 0.04), np.zeros(500))
    (run,) = simulate.drive([road], np.array([20.0]), np.array([2]))
    slid = run.wsp
    assert slid.sum() > 100
    assert run.used[slid] == pytest.approx(0.85 * 0.04)
