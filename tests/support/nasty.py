"""Bad days of a receiver and of a tablet, laid over a simulated track.

Own inventions, each after something that browsers or receivers are known to do: the same
position handed out twice, several let go at once, a place that is wrong for a while and
claims to be exact, a tablet that sleeps. The truth of the track stays as it is.
"""

from __future__ import annotations

import math
import random
from collections.abc import Callable
from typing import Any

from tests.support.tracks import metres

Track = dict[str, Any]
Rows = list[list[Any]]
OFF_M, OFF_S, OFF_EVERY_S = 300, 40, 200
SEND_EVERY_S = 4
SLEEP_S = 600


def stamped(track: Track) -> list[Rows]:
    """All rows of each second, with the second at which they were taken."""
    return [[[*row, t]] if row else [] for t, row in enumerate(track["fixes"])]


def _repeated(track: Track, rng: random.Random) -> Track:
    """Each twice, and sometimes the one before comes again after it."""
    rows = stamped(track)
    old: Rows = []
    for second in rows:
        again = old if rng.random() < 0.3 else []
        old = list(second) or old
        second += list(second) + again
    return {**track, "fixes": rows}


def _together(track: Track, rng: random.Random) -> Track:
    """Held back for some seconds and let go at once, in any order."""
    rows: list[Rows] = []
    held: Rows = []
    for t, second in enumerate(stamped(track)):
        held += second
        go = t % SEND_EVERY_S == 0
        rows.append(rng.sample(held, len(held)) if go else [])
        held = [] if go else held
    return {**track, "fixes": rows}


def _moved(track: Track, rng: random.Random) -> Track:
    """Wrong by 300 m for 40 s, and claims 5 m; again and again."""
    rows = stamped(track)
    turn = 0.0
    for t, second in enumerate(rows):
        turn = rng.uniform(0, math.tau) if t % OFF_EVERY_S == 0 else turn
        if t % OFF_EVERY_S >= OFF_EVERY_S - OFF_S:
            for row in second:
                east, north = metres(row[0])
                row[0] += OFF_M * math.cos(turn) / north
                row[1] += OFF_M * math.sin(turn) / east
                row[2] = 5.0
    return {**track, "fixes": rows}


def _exact(track: Track, _: random.Random) -> Track:
    return {
        **track,
        "fixes": [[*row[:2], 3.0, row[3]] if row else [] for row in track["fixes"]],
    }


def _some_speeds(track: Track, rng: random.Random) -> Track:
    rows = [[*row[:3], rng.choice([row[3], None])] if row else [] for row in track["fixes"]]
    return {**track, "fixes": rows}


def _seldom(track: Track, _: random.Random) -> Track:
    return {
        **track,
        "fixes": [row if t % 9 == 0 else [] for t, row in enumerate(track["fixes"])],
    }


def _asleep(track: Track, rng: random.Random) -> Track:
    begin = rng.randrange(60, 900)
    return {**track, "asleep": [begin, begin + SLEEP_S]}


def _clock_asleep(track: Track, rng: random.Random) -> Track:
    """The steady clock sleeps as well, as it does on some systems."""
    return {**_asleep(track, rng), "clock": "sleeps"}


NASTY: dict[str, Callable[[Track, random.Random], Track]] = {
    "repeated": _repeated,
    "together, in any order": _together,
    "300 m wrong, claims 5 m": _moved,
    "claims 3 m": _exact,
    "speed now and then": _some_speeds,
    "a fix in 9 s": _seldom,
    "ten minutes asleep": _asleep,
    "its clock asleep as well": _clock_asleep,
}
