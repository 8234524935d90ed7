"""Which runs are simulated: ten for the browser, and as many random ones as wanted."""

from __future__ import annotations

import math
import random
from typing import Any

from tests.support.tracks import Event, Fault, Noise, Run

DOWN, UP, FAST = "d0512", "u0538", "d0712"
OUT, IN = "o0510", "i0527"
KETTLE, ORRIN = "kettle-bay", "orrin"
CANYON = Noise(canyon=((0.0, 1.0),))


def _missed_and_extra() -> Run:
    events = (Event("missed", 3), Event("extra", 7, 600))
    return Run("stop missed, extra call", ORRIN, IN, events=events)


def _holes() -> Run:
    noise = Noise(canyon=((0.2, 0.8),), dropouts=(400, 1100, 1900))
    return Run("canyon and dropouts of 90 s", ORRIN, IN, noise=noise)


def _diverted() -> Run:
    events = (Event("diversion", 8, 700),)
    return Run("diversion off the line", ORRIN, OUT, calls=(0, 9), events=events)


def _other_platform() -> Run:
    noise = Noise(speed=False)
    events = (Event("platform", 4, 25),)
    return Run("other platform, no speed", ORRIN, OUT, 1, events=events, noise=noise)


#: Five of each line. On the Kettle Bay line a share of 0.035 of the run is about 4 km.
TEN = (
    Run("open sky, a dropout of 90 s", KETTLE, DOWN, noise=Noise(dropouts=(500,))),
    Run("tunnel of 4 km", KETTLE, UP, noise=Noise(tunnel=(0.300, 0.335))),
    Run("cold start in mid-line", KETTLE, DOWN, start=0.4),
    Run("fast train, one signal stand", KETTLE, FAST, events=(Event("signal", 5, 40),)),
    Run("reversal", KETTLE, DOWN, calls=(0, 9), events=(Event("reversal", 7, 900),)),
    Run("urban canyon", ORRIN, OUT, noise=CANYON),
    _holes(),
    _diverted(),
    _missed_and_extra(),
    _other_platform(),
)


def random_run(packs: dict[str, Any], seed: int) -> Run:
    """One run of some stops with some of everything that can happen."""
    rng = random.Random(f"run {seed}")
    route = rng.choice(sorted(packs))
    trip = rng.choice(packs[route]["base"]["trips"])
    first = rng.randrange(0, max(1, len(trip["calls"]) - 6))
    last = min(first + rng.randint(4, 8), len(trip["calls"]) - 1)
    events = []
    for call in range(first + 1, last + 1):
        kind = rng.choice([None] * 6 + ["signal", "extra", "platform", "missed"])
        much = {"signal": rng.uniform(25, 120), "extra": rng.uniform(400, 1200)}
        if kind is not None:
            events.append(Event(kind, call, much.get(kind, rng.uniform(10, 30))))
    ending = rng.choice([None] * 4 + ["diversion", "reversal"])
    if ending:
        events = [event for event in events if event.call != last]
        events.append(Event(ending, last, rng.uniform(500, 900)))
    a = rng.random()
    noise = Noise(
        canyon=((a, a + rng.uniform(0.1, 0.6)),) if rng.random() < 0.6 else (),
        tunnel=(a, a + rng.uniform(0.03, 0.12)) if rng.random() < 0.3 else None,
        dropouts=tuple(rng.sample(range(60, 1500), rng.randint(0, 3))),
        speed=rng.random() < 0.8,
        every=rng.choice([1, 1, 1, 2, 4]),
    )
    start = rng.choice([0.0, 0.0, rng.uniform(0.1, 0.5)])
    if any(event.kind == "missed" for event in events):
        start = 0.0  # woken after it, nobody could know of the stop that was missed
    return Run(
        f"random {seed}", route, trip["key"], seed, (first, last), start, tuple(events), noise
    )


def lying_run(packs: dict[str, Any], seed: int) -> Run:
    """A plain run but for a receiver that is 200 m wrong for a minute and claims 10 m."""
    rng = random.Random(f"liar {seed}")
    route = rng.choice(sorted(packs))
    trip = rng.choice(packs[route]["base"]["trips"])
    first = rng.randrange(0, max(1, len(trip["calls"]) - 5))
    noise = Noise(liar=rng.uniform(0.1, 0.9), speed=rng.random() < 0.8)
    return Run(f"liar {seed}", route, trip["key"], seed, (first, first + 4), noise=noise)


#: A receiver that jumps does so for so long and so far; a short tunnel is this long.
JUMP_S, JUMP_M, TUNNEL_S = 15, 400.0, 60


def faulty_run(packs: dict[str, Any], seed: int) -> Run:
    """Overruns, stands short of a platform, jumps of the receiver and short tunnels.

    A family of its own with its own seeds: those of ``random_run`` mean what they meant.
    """
    rng = random.Random(f"faulty {seed}")
    route = rng.choice(sorted(packs))
    trip = rng.choice(packs[route]["base"]["trips"])
    first = rng.randrange(0, max(1, len(trip["calls"]) - 6))
    last = min(first + rng.randint(4, 8), len(trip["calls"]) - 1)
    events = []
    for call in range(first, last):
        kind = rng.choice([None] * 6 + ["overrun", "set back", "signal"])
        beyond = rng.choice([rng.uniform(30, 100), rng.uniform(30, 200)])
        if kind is not None:
            much = rng.uniform(25, 250) if kind == "signal" else beyond
            events.append(Event(kind, call, much))
    faults = [jump(rng) for _ in range(rng.randint(0, 3))]
    faults += [Fault(rng.uniform(0.05, 0.95), TUNNEL_S) for _ in range(rng.randint(0, 2))]
    a = rng.random()
    noise = Noise(
        canyon=((a, a + rng.uniform(0.05, 0.3)),) if rng.random() < 0.4 else (),
        speed=rng.random() < 0.85,
        every=rng.choice([1, 1, 1, 2]),
        faults=tuple(faults),
    )
    name = f"faulty {seed}"
    return Run(
        name, route, trip["key"], seed, (first, last), events=tuple(events), noise=noise
    )


def jump(rng: random.Random) -> Fault:
    """Half of them straight along the line, the others anywhere."""
    turn = rng.choice([0.0, math.pi, rng.uniform(0, math.tau), rng.uniform(0, math.tau)])
    along, aside = JUMP_M * math.cos(turn), JUMP_M * math.sin(turn)
    return Fault(rng.uniform(0.05, 0.95), JUMP_S, along, aside)
