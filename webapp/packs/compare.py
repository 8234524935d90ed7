"""What a new pack changes against the one in use: every card, then every row of the line.

A person reads this before tablets get it. A change that asks less of the driver than before
is on top and needs a second person; one that only begins earlier, is lighter or takes advice
away does not. Works on the plain JSON of two packs, so the cause does not matter: a row of
the route, the register of places, a setting, or another release of the calculation.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date, timedelta
from functools import cached_property
from itertools import product
from typing import Any

from calc.result import OK
from webapp.lines.advice import within_season
from webapp.lines.base import Base
from webapp.lines.columns import ALL_THE_WAY
from webapp.lines.lookup import look_up
from webapp.lines.posts import stretch_along
from webapp.packs.compare_hand import without_room, without_state_in_hand
from webapp.packs.compare_line import LineChange, line_changes

Json = dict[str, Any]
#: A brake point is a multiple of this; one step of rounding alone is no later mark. [m]
ROUNDING = 5.0
#: Season dates that come so soon are named: they switch on the tablet by themselves. [days]
SOON = 60

#: Kinds of change, gravest first, with the words of a heading.
KINDS = {
    "later": "Begins later",
    "heavier": "Heavier step",
    "quicker": "Higher speeds",
    "cover": "Less cover",
    "limit": "Limit further on",
    "gained": "Advice where there was none",
    "lost": "Advice taken away",
    "nearer": "Limit nearer",
    "slower": "Lower speeds",
    "lighter": "Lighter step",
    "earlier": "Begins earlier",
    "other": "Other figures",
}
#: These ask less of the driver than before, or ask it for the first time.
SECOND = ("later", "heavier", "quicker", "cover", "limit", "gained")
TOP = (*SECOND, "lost")


@dataclass(frozen=True)
class Parts:
    """Two files of a pack: its base and its table, as plain JSON."""

    base: Json
    table: Json

    @cached_property
    def indices(self) -> dict[str, dict[str, int]]:
        """Where each stop, train and rail state is in the table, by key."""
        return {
            what: {row["key"]: n for n, row in enumerate(self.base[what])}
            for what in ("targets", "trains", "states")
        }


@dataclass(frozen=True)
class Advice:
    """One card's figures; places are metres along the line, speeds in posted units."""

    point: float
    before: str
    landmark_at: float | None
    brake: int
    step: int
    step_name: str
    run_in: int
    cover: int
    slick: float
    worse: str
    speeds: tuple[tuple[str, int], ...]
    limit: float
    mark: float


@dataclass(frozen=True)
class Card:
    """One stop, train, rail state and season, before and after; None: no advice."""

    stop: str
    train_key: str
    train: str
    state_key: str
    state: str
    season: int
    old: Advice | None
    new: Advice | None
    kinds: Mapping[str, float]

    @property
    def case(self) -> str:
        season = ", in season" if self.season else ""
        return f"{self.train}, {self.state}{season}"


@dataclass(frozen=True)
class StopChange:
    """All cards of one stop that changed in one way; the worst card is the first."""

    key: str
    name: str
    kind: str
    cards: tuple[Card, ...]
    of: int

    @property
    def worst(self) -> Card:
        return self.cards[0]

    @property
    def size(self) -> float:
        return self.worst.kinds[self.kind]


@dataclass(frozen=True)
class Switch:
    """A day within `SOON` on which listed places begin or end by themselves."""

    day: str
    stop: str
    begins: bool
    metres: float


@dataclass(frozen=True)
class Comparison:
    """A whole comparison.

    `first`: there is no former pack of this line; `bare`: stops without a state in hand in
    the new one, a line for each rail state; `tight`: those without room.
    """

    first: bool
    stops: tuple[StopChange, ...]
    unchanged: tuple[str, ...]
    line: tuple[LineChange, ...]
    switches: tuple[Switch, ...]
    inferred: tuple[str, ...]
    bare: tuple[str, ...]
    tight: tuple[str, ...]
    cards: int
    changed: int
    sections: Mapping[str, tuple[StopChange, ...]] = field(default_factory=dict)

    @property
    def second(self) -> list[str]:
        """Return why a second person is needed, one short reason each; none: it is not."""
        if self.first:
            return ["first pack of this line"]
        reasons = [KINDS[kind].lower() for kind in SECOND if kind in self.sections]
        return reasons + list(dict.fromkeys(one.what for one in self.line if one.second))

    @property
    def nothing(self) -> bool:
        return not self.first and not self.stops and not self.line


def compare(old: Parts | None, new: Parts, today: date) -> Comparison:
    """Compare two packs of one line card by card; `old` None: there is none yet."""
    cards = list(_cards(old, new))
    stops = tuple(_grouped(new if old is None else _both(old, new), cards))
    names = _names(old, new)
    touched = {one.key for one in stops}
    sections = {
        kind: tuple(one for one in stops if one.kind == kind)
        for kind in KINDS
        if any(one.kind == kind for one in stops)
    }
    return Comparison(
        first=old is None,
        stops=stops,
        unchanged=tuple(name for key, name in names.items() if key not in touched),
        line=() if old is None else tuple(line_changes(old.base, new.base)),
        switches=tuple(sorted(_switches(new, today), key=lambda one: one.day)),
        inferred=tuple(_inferred(new.base)),
        bare=tuple(without_state_in_hand(new.base, new.table)),
        tight=tuple(without_room(new.base, new.table)),
        cards=len(cards),
        changed=sum(1 for card in cards if card.kinds),
        sections=sections,
    )


def _cards(old: Parts | None, new: Parts) -> Iterator[Card]:
    """Give every card of either pack, by the keys of stop, train and rail state."""
    both = [one for one in (old, new) if one is not None]
    targets = _keys(both, "targets")
    trains, states = _keys(both, "trains"), _keys(both, "states")
    listed = {t["key"] for one in both for t in one.base["targets"] if t["listed"]}
    names = {
        what: {key: _name(both, what, key) for key in keys}
        for what, keys in (("trains", trains), ("states", states))
    }
    for stop in targets:
        sign = _sign(both, stop)
        seasons = (0, 1) if stop in listed else (0,)
        for season, train, state in product(seasons, trains, states):
            was = _advice(old, stop, train, state, season) if old else None
            now = _advice(new, stop, train, state, season)
            yield Card(
                stop,
                train,
                names["trains"][train],
                state,
                names["states"][state],
                season,
                was,
                now,
                _kinds(was, now, sign),
            )


def _keys(both: Sequence[Parts], what: str) -> list[str]:
    return list(dict.fromkeys(row["key"] for one in both for row in one.base[what]))


def _name(both: Sequence[Parts], what: str, key: str) -> str:
    rows = (row for one in reversed(both) for row in one.base[what] if row["key"] == key)
    return str(next(rows).get("name", key))


def _sign(both: Sequence[Parts], stop: str) -> int:
    for one in reversed(both):
        for target in one.base["targets"]:
            if target["key"] == stop:
                return _way(one.base, target)
    raise LookupError(stop)


def _way(base: Json, target: Json) -> int:
    way = target["direction"]
    return next(int(one["sign"]) for one in base["directions"] if one["key"] == way)


def _advice(pack: Parts, stop: str, train: str, state: str, season: int) -> Advice | None:
    """Look one card up as a tablet does; None where it shows no figure."""
    base, known = pack.base, pack.indices
    if (
        stop not in known["targets"]
        or train not in known["trains"]
        or state not in known["states"]
    ):
        return None
    stop_at, train_at = known["targets"][stop], known["trains"][train]
    state_at = known["states"][state]
    target = base["targets"][stop_at]
    if not target["listed"]:
        season = 0
    where = {"target": stop_at, "train": train_at, "state": state_at}
    found = look_up(base, pack.table, **where, season=season, speed=None)
    if found["status"] != OK:
        return None
    mark = float(target["mark_m"][train_at])
    landmark = found["mark"] and base["landmarks"][found["mark"]["index"]]
    return Advice(
        point=mark - _way(base, target) * found["brake"],
        before=landmark["words"] if landmark else "(no mark)",
        landmark_at=float(landmark["at_m"]) if landmark else None,
        brake=found["brake"],
        step=found["step"],
        step_name=base["trains"][train_at]["steps"][found["step"]],
        run_in=found["run_in"],
        cover=found["cover"],
        slick=found["slick"],
        worse=_worse_words(found["worse"]),
        speeds=tuple((one["words"], one["speed"]) for one in found["speeds"]),
        limit=float(target["limit_m"][train_at]),
        mark=mark,
    )


def _worse_words(worse: Json | None) -> str:
    if worse is None:
        return "(worst already)"
    if worse["status"] != OK:
        return "too slippery at any speed"
    return worse["mark"]["words"] if worse["mark"] else "(no mark)"


def _kinds(old: Advice | None, new: Advice | None, sign: int) -> dict[str, float]:
    """Say in which ways a card changed, each with its size for sorting."""
    if old is None or new is None:
        if old is new:
            return {}
        return {"lost": 1.0} if new is None else {"gained": 1.0}
    found = _place_kinds(old, new, sign) | _figure_kinds(old, new)
    if not found and old != new:
        found["other"] = 1.0
    return found


def _place_kinds(old: Advice, new: Advice, sign: int) -> dict[str, float]:
    found = {}
    later = sign * (new.point - old.point)
    shift = 0.0
    if old.landmark_at is not None and new.landmark_at is not None:
        shift = sign * (new.landmark_at - old.landmark_at)
    if later > ROUNDING or shift > 0:
        found["later"] = max(later, shift)
    elif later < 0 or shift < 0:
        found["earlier"] = max(-later, -shift)
    limit = sign * (new.limit - old.limit)
    if limit:
        found["limit" if limit > 0 else "nearer"] = abs(limit)
    return found


def _figure_kinds(old: Advice, new: Advice) -> dict[str, float]:
    found = {}
    if new.step != old.step:
        found["heavier" if new.step > old.step else "lighter"] = float(
            abs(new.step - old.step)
        )
    up, down = _speed_changes(old, new)
    if up:
        found["quicker"] = float(up)
    elif down:
        found["slower"] = float(down)
    # A patch of another adhesion cannot be set against this one.
    if new.slick == old.slick and _metres(new.cover) < _metres(old.cover):
        found["cover"] = min(_metres(old.cover), 9999.0) - _metres(new.cover)
    return found


def _speed_changes(old: Advice, new: Advice) -> tuple[int, int]:
    """Return by how much the run-in or a speed at a landmark rose, and fell, at most."""
    steps = [new.run_in - old.run_in] if new.run_in and old.run_in else []
    if bool(new.run_in) != bool(old.run_in):
        # A run-in that went leaves one application to the mark: no lower speed on the way.
        steps.append(old.run_in or -new.run_in)
    before = dict(old.speeds)
    steps += [speed - before[words] for words, speed in new.speeds if words in before]
    return max([0, *steps]), max([0, *(-one for one in steps)])


def _metres(cover: int) -> float:
    return float("inf") if cover == ALL_THE_WAY else float(cover)


def _both(old: Parts, new: Parts) -> Parts:
    """Return the new pack with the stops that only the old one has behind its own."""
    known = {target["key"] for target in new.base["targets"]}
    gone = [target for target in old.base["targets"] if target["key"] not in known]
    return Parts({**new.base, "targets": [*new.base["targets"], *gone]}, new.table)


def _names(old: Parts | None, new: Parts) -> dict[str, str]:
    pack = new if old is None else _both(old, new)
    ways = {one["key"]: one["name"] for one in pack.base["directions"]}
    return {
        one["key"]: _stop_name(one, ways[one["direction"]]) for one in pack.base["targets"]
    }


def _stop_name(target: Json, way: str) -> str:
    platform = f", platform {target['platform']}" if target.get("platform") else ""
    return f"{target['name']}{platform}, {way}"


def _grouped(pack: Parts, cards: Sequence[Card]) -> Iterator[StopChange]:
    """Put the cards of one stop and kind together, kinds and stops worst first."""
    names = _names(None, pack)
    of: dict[str, int] = {}
    by: dict[tuple[str, str], list[Card]] = {}
    for card in cards:
        of[card.stop] = of.get(card.stop, 0) + 1
        for kind in card.kinds:
            by.setdefault((kind, card.stop), []).append(card)
    groups = [
        StopChange(
            stop,
            names[stop],
            kind,
            tuple(sorted(found, key=lambda one: -one.kinds[kind])),
            of[stop],
        )
        for (kind, stop), found in by.items()
    ]
    order = list(KINDS)
    return iter(sorted(groups, key=lambda one: (order.index(one.kind), -one.size, one.name)))


def _switches(pack: Parts, today: date) -> Iterator[Switch]:
    """Name the days on which a stop's listed places come into season or leave it."""
    for target in pack.base["targets"]:
        here = [one for one in pack.base["listed"] if one["key"] in target["listed"]]
        if not here:
            continue
        was = _in_season(here, today)
        for ahead in range(1, SOON + 1):
            day = today + timedelta(days=ahead)
            now = _in_season(here, day)
            if now != was:
                metres = _season_metres(pack, target)
                yield Switch(day.isoformat(), _names(None, pack)[target["key"]], now, metres)
            was = now


def _in_season(listed: Sequence[Json], day: date) -> bool:
    return any(within_season(one["season"], day.strftime("%m-%d")) for one in listed)


def _season_metres(pack: Parts, target: Json) -> float:
    """Return how far apart a stop's brake points of the two seasons are at most. [m]"""
    most = 0.0
    for train in pack.base["trains"]:
        for state in pack.base["states"]:
            keys = (target["key"], train["key"], state["key"])
            out, within = (_advice(pack, *keys, season) for season in (0, 1))
            if out and within:
                most = max(most, abs(out.point - within.point))
    return most


def _inferred(base: Json) -> list[str]:
    """Return the values that nobody surveyed, in words, where the pack names them."""
    unit = Base(base).distance_unit
    ways = {one["key"]: one["name"] for one in base["directions"]}
    return [
        f"{one['what']}, {stretch_along(one['from_m'], one['to_m'], unit)}"
        f"{', ' + ways.get(one['direction'], '') if one['direction'] else ''}: {one['how']}"
        for one in base.get("inferred", [])
    ]
