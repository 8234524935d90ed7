"""Simulated tracks along the demo lines: the truth for each second and what a receiver says.

A track is made from the base file of a pack: its line, its trip, the limits. The train
gains 0.6 m/s², brakes with 0.35 m/s² and dwells; events bend that (a stop missed, a stand at
a signal or past a platform, a diversion, a reversal). The receiver's errors come from a
seeded model. All figures are own numbers; no recorded track is used, none is public for such
a line.
"""

from __future__ import annotations

import math
import random
from dataclasses import dataclass, field, replace
from itertools import pairwise
from typing import Any

GAIN, BRAKE = 0.6, 0.35
#: Seconds of truth that nobody can know: the answer is not judged there.
NOT_JUDGED = (-2, -2)
#: No card of this trip is right.
NO_CARD = (-1, -1)
#: What a train does can be known after so many seconds with fixes.
KNOWN_AFTER_S = 12
LIE_S = 60  # a receiver lies for so long
#: So far past a platform's end no position shows that the train is not in it any more.
BEYOND_M = 40

Base = dict[str, Any]


@dataclass(frozen=True)
class Event:
    """What happens: kind, at which call, and a figure whose meaning the kind gives."""

    kind: str
    call: int
    much: float = 0.0


@dataclass(frozen=True)
class Fault:
    """The receiver from a share of the run on: blind, or wrong by so much and sure of it."""

    at: float
    seconds: int
    along: float = 0.0
    aside: float = 0.0

    @property
    def blind(self) -> bool:
        return not (self.along or self.aside)


@dataclass(frozen=True)
class Noise:
    """The receiver: areas [from share, to share] of the run in which something is wrong."""

    canyon: tuple[tuple[float, float], ...] = ()
    tunnel: tuple[float, float] | None = None
    dropouts: tuple[float, ...] = ()
    speed: bool = True
    every: int = 1
    #: From this share of the run on, for a minute: 200 m wrong, and claims 10 m.
    liar: float | None = None
    faults: tuple[Fault, ...] = ()


@dataclass(frozen=True)
class Run:
    """One run to simulate."""

    name: str
    route: str
    trip: str
    seed: int = 0
    calls: tuple[int, int] = (0, 99)
    start: float = 0.0
    events: tuple[Event, ...] = ()
    noise: Noise = Noise()


@dataclass
class Moment:
    """One second of truth."""

    s: float
    speed: float
    side: float
    right: tuple[int, int]
    #: What is not as on other days.
    odd: str = ""


@dataclass
class Way:
    """A trip's line in the direction of travel."""

    sign: int
    geometry: list[tuple[float, float, float]]
    stops: list[tuple[float, float, float]]
    origin: float
    limits: list[tuple[float, float, float]]
    top: float = field(init=False)

    def __post_init__(self) -> None:
        self.top = max(limit for _, _, limit in self.limits)

    def limit(self, s: float) -> float:
        found = [v for a, b, v in self.limits if a <= s <= b]
        return min(found, default=self.top)

    def place(self, s: float, side: float) -> tuple[float, float]:
        """Longitude and latitude, ``side`` metres to the left of the line."""
        at = self.sign * s
        rows = self.geometry
        for a, b in pairwise(rows):
            if at <= b[2] or b is rows[-1]:
                share = (at - a[2]) / (b[2] - a[2])
                lat = a[1] + share * (b[1] - a[1])
                east, north = metres(a[1])
                dx, dy = (b[0] - a[0]) * east, (b[1] - a[1]) * north
                length = math.hypot(dx, dy)
                lon = a[0] + share * (b[0] - a[0]) - side * dy / length / east
                return lon, lat + side * dx / length / north
        raise AssertionError("a line without points")


def metres(lat: float) -> tuple[float, float]:
    """Metres of one degree of longitude and of latitude."""
    degree = math.radians(1) * 6_371_008.8
    return degree * math.cos(math.radians(lat)), degree


def way_of(base: Base, trip_key: str) -> Way:
    trip = next(one for one in base["trips"] if one["key"] == trip_key)
    sign = next(d["sign"] for d in base["directions"] if d["key"] == trip["direction"])
    targets = {one["key"]: one for one in base["targets"]}
    unit = base["route"]["mps_per_unit"]
    train = next(
        i
        for i, one in enumerate(base["trains"])
        if (one["type"], one["formation"], one["isolated_cars"])
        == (trip["train_type"], trip["formation"], 0)
    )

    def along(low: float, high: float) -> tuple[float, float]:
        return min(sign * low, sign * high), max(sign * low, sign * high)

    stops = []
    for call in trip["calls"]:
        target = targets[call["target"]]
        near, far = along(target["platform_from_m"], target["platform_to_m"])
        stops.append((near, far, sign * target["mark_m"][train]))
    limits = [
        (*along(a, b), speed * unit) for a, b, speed in base["limits"][trip["direction"]]
    ]
    origin = next(p["at_m"] for p in base["places"] if p["key"] == trip["starts"]["place"])
    return Way(sign, [tuple(p) for p in base["geometry"]], stops, sign * origin, limits)


@dataclass
class Train:
    """Drives second by second and keeps what is true."""

    way: Way
    s: float
    next: int
    speed: float = 0.0
    side: float = 0.0
    odd: str = ""
    moments: list[Moment] = field(default_factory=list)

    def note(self, right: tuple[int, int]) -> None:
        self.moments.append(Moment(self.s, self.speed, self.side, right, self.odd))

    def stand(self, seconds: float, right: tuple[int, int]) -> None:
        self.speed = 0.0
        for _ in range(int(seconds)):
            self.note(right)

    def step(self, goal: float | None) -> bool:
        """Drive one second towards a stand at ``goal``; true once there."""
        want = self.allowed(goal)
        change = max(-2 * BRAKE, min(GAIN, want - self.speed))
        self.speed = max(0.0, self.speed + change)
        if goal is not None and (goal - self.s <= max(self.speed, 0.6)):
            self.s, self.speed = goal, 0.0
            return True
        self.s += self.speed
        return False

    def allowed(self, goal: float | None) -> float:
        want = self.way.limit(self.s)
        for a, _, v in self.way.limits:
            if a > self.s:
                want = min(want, math.sqrt(v * v + 2 * BRAKE * (a - self.s)))
        if goal is not None:
            left = max(0.0, goal - self.s)
            want = min(want, max(1.0, math.sqrt(2 * BRAKE * left) - 0.3))
        return want


def simulate(way: Way, run: Run, rng: random.Random) -> Train:
    """Drive the train through the run."""
    first, last = run.calls[0], min(run.calls[1], len(way.stops) - 1)
    start = way.origin if first == 0 else way.stops[first - 1][2]
    train = Train(way, start, first)
    train.stand(20, (first - 1 if first else 0, first))
    lost = False
    for call in range(first, last + 1):
        events = {event.kind: event for event in run.events if event.call == call}
        near, far, mark = way.stops[call]
        right = NO_CARD if lost else (call, call)
        if "diversion" in events:
            divert(train, near - events["diversion"].much)
            break
        if "reversal" in events:
            reverse(train, near - events["reversal"].much, right)
            break
        for kind in ("extra", "signal"):
            if kind in events:
                drive(train, near - events[kind].much, right)
                train.odd = kind
                train.stand(rng.randint(25, 70), right)
                train.odd = ""
        if "missed" in events:
            run_through(train, far, right)
            lost = True
            continue
        if "overrun" in events or "set back" in events:
            overrun(train, events.get("overrun") or events["set back"], rng)
            continue
        train.side, side = events["platform"].much if "platform" in events else 0.0, train.side
        drive(train, mark - rng.uniform(0, 6), right)
        dwell = rng.randint(22, 55)
        if lost:
            train.stand(12, NO_CARD)
            lost = False
        train.stand(dwell, (call, call + 1))
        train.side = side
        train.next = call + 1
    return train


def drive(train: Train, goal: float, right: tuple[int, int]) -> None:
    for _ in range(20_000):
        there = train.step(goal)
        train.note(right)
        if there:
            return
    raise AssertionError(f"never at {goal}")


def run_through(train: Train, far: float, right: tuple[int, int]) -> None:
    """Past a booked platform; for 250 m nobody can say that it is no overrun."""
    while train.s <= far + 250:
        train.step(None)
        train.note(right if train.s <= far else NOT_JUDGED)


def overrun(train: Train, event: Event, rng: random.Random) -> None:
    """Past the end of a platform and a stand there, then on, or back into the platform first.

    Beyond it the stop behind is next no more: on or back and then on, the card of the one
    after it is right.
    """
    call = event.call
    near, far, mark = train.way.stops[call]
    there = False
    while not there:
        there = train.step(far + event.much)
        train.odd = "sliding" if train.s > far else ""
        train.note((call + (train.s > far + BEYOND_M), call + (train.s > far)))
    train.odd = event.kind
    train.stand(rng.randint(40, 150), (call + 1, call + 1))
    if event.kind == "set back":
        goal, train.speed = rng.uniform(near + 10, mark), rng.uniform(1.0, 2.5)
        while train.s > goal:
            train.s -= train.speed
            train.note((call + (train.s > far + BEYOND_M), call + 1))
        train.stand(rng.randint(30, 60), (call, call + 1))
    train.next = call + 1
    train.odd = ""


def divert(train: Train, where: float) -> None:
    """Leave the line at an angle of 15 degrees; known after 150 m beside it."""
    while train.s < where:
        train.step(None)
        train.note((train.next, train.next))
    for _ in range(240):
        train.step(None)
        train.side += train.speed * math.tan(math.radians(15))
        train.note(NOT_JUDGED if train.side < 400 else NO_CARD)


def reverse(train: Train, where: float, right: tuple[int, int]) -> None:
    """Stand, then run back; the direction is known after 250 m."""
    drive(train, where, right)
    train.stand(60, right)
    turn = train.s
    for _ in range(150):
        train.speed = min(15.0, train.speed + GAIN)
        train.s -= train.speed
        train.note(NOT_JUDGED if turn - train.s < 300 else NO_CARD)


class Receiver:
    """Says where it thinks it is: correlated error, jumps, holes."""

    def __init__(self, noise: Noise, rng: random.Random) -> None:
        self.noise = noise
        self.rng = rng
        self.error = [0.0, 0.0]
        self.jump = [0.0, 0.0]
        self.jumping = 0
        turn = random.Random(f"{noise.liar}").uniform(0, math.tau)
        self.lie = (200 * math.cos(turn), 200 * math.sin(turn))

    def sees(self, second: int, share: float) -> bool:
        holes = [self.noise.tunnel] if self.noise.tunnel else []
        if any(a <= share <= b for a, b in holes):
            return False
        if any(start <= second < start + 90 for start in self.noise.dropouts):
            return False
        return second % self.noise.every == 0

    def fix(
        self, way: Way, moment: Moment, canyon: bool, lies: bool = False
    ) -> tuple[float, float, float, float | None]:
        """Latitude, longitude, accuracy, speed."""
        rng = self.rng
        tau, size, most = (40.0, 22.0, 60.0) if canyon else (60.0, 3.0, 10.0)
        keep = math.exp(-1 / tau)
        for axis in (0, 1):
            error = keep * self.error[axis] + size * math.sqrt(1 - keep * keep) * rng.gauss(
                0, 1
            )
            self.error[axis] = max(-most, min(most, error))
        self._jumps(canyon)
        lon, lat = way.place(moment.s, moment.side)
        east, north = metres(lat)
        white = 4.0 if canyon else 1.5
        dx = self.error[0] + self.jump[0] + rng.gauss(0, white)
        dy = self.error[1] + self.jump[1] + rng.gauss(0, white)
        accuracy = rng.uniform(18, 60) if canyon else rng.uniform(4, 12)
        if lies:
            dx, dy, accuracy = self.lie[0], self.lie[1], 10.0
        speed = None
        if self.noise.speed:
            wrong = 0.5 if canyon else 0.15
            speed = round(max(0.0, moment.speed + rng.gauss(0, wrong)), 2)
        return round(lat + dy / north, 7), round(lon + dx / east, 7), round(accuracy, 1), speed

    def _jumps(self, canyon: bool) -> None:
        if self.jumping > 0:
            self.jumping -= 1
            return
        self.jump = [0.0, 0.0]
        if canyon and self.rng.random() < 0.02:
            self.jumping = self.rng.randint(1, 8)
            far, turn = self.rng.uniform(80, 300), self.rng.uniform(0, math.tau)
            self.jump = [far * math.cos(turn), far * math.sin(turn)]


def fault_at(faults: tuple[Fault, ...], second: int, seconds: int) -> Fault | None:
    """The fault of the receiver at a second of a run of so many."""
    for fault in faults:
        if 0 <= second - int(fault.at * seconds) < fault.seconds:
            return fault
    return None


def track(base: Base, run: Run) -> dict[str, Any]:
    """Make one track: seconds with fix or none, the right answer for each.

    ``right`` holds [lowest, highest] index of a call that may be shown as sure;
    [-1, -1]: none may; [-2, -2]: not judged.
    """
    rng = random.Random(f"{run.name}/{run.seed}")
    way = way_of(base, run.trip)
    train = simulate(way, run, rng)
    receiver = Receiver(run.noise, rng)
    moments = train.moments
    begin = int(run.start * len(moments))
    rows: list[list[float | None]] = []
    seen = 0
    begins = None if run.noise.liar is None else run.noise.liar * len(moments)
    for second, moment in enumerate(moments):
        share = second / len(moments)
        canyon = any(a <= share <= b for a, b in run.noise.canyon)
        lies = begins is not None and begins <= second < begins + LIE_S
        fault = fault_at(run.noise.faults, second, len(moments))
        said = moment
        if fault is not None:
            said = replace(moment, s=moment.s + fault.along, side=moment.side + fault.aside)
            moment.odd = moment.odd or "receiver"
        lat, lon, accuracy, speed = receiver.fix(way, said, canyon, lies)
        sees = receiver.sees(second, share) and not (fault and fault.blind)
        rows.append([lat, lon, accuracy, speed] if sees else [])
        gone = moment.right in (NOT_JUDGED, NO_CARD)
        seen = seen + sees if gone else 0
        if gone and seen * run.noise.every < KNOWN_AFTER_S:
            moment.right = NOT_JUDGED
    return {
        "name": run.name,
        "route": run.route,
        "trip": run.trip,
        "fixes": rows[begin:],
        "right": [list(one.right) for one in moments[begin:]],
        "s": [round(one.s, 1) for one in moments[begin:]],
        "speed": [round(one.speed, 2) for one in moments[begin:]],
        "odd": [one.odd for one in moments[begin:]],
    }
