"""What changed in the rows of a line between two packs, in words, and what that asks for.

Figures show most changes by themselves. These rows are what no figure shows: a signal that
vanished, a landmark that moved under the same words, a setting, a listed place made milder.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import Any

from webapp.lines.base import Base
from webapp.lines.posts import stretch_along

Json = dict[str, Any]
Key = Callable[[Json], str]


@dataclass(frozen=True)
class LineChange:
    """One row that is new, gone or changed; `second`: a second person has to see it."""

    what: str
    name: str
    words: str
    second: bool


def line_changes(old: Json, new: Json) -> list[LineChange]:
    """Compare everything of two bases that is not a stop's computed figure."""
    found: list[LineChange] = []
    found += _values("setting", old["settings"], new["settings"], second=True)
    found += _values("fixed words", old.get("words", {}), new.get("words", {}), second=True)
    for language in sorted({*old.get("names_in", {}), *new.get("names_in", {})}):
        found += _names(
            language, *(one.get("names_in", {}).get(language, {}) for one in (old, new))
        )
    found += _values("line", old["route"], new["route"], second=True)
    for what, part, key, asks in _ROWS:
        found += _rows(what, old.get(part, []), new.get(part, []), key, asks)
    found += _listed(old, new)
    found += _trips(old["trips"], new["trips"])
    unit = Base(new).distance_unit
    found += _spans("gradient", _gradients(old), _gradients(new), unit)
    found += _spans("line speed", _limits(old), _limits(new), unit)
    return sorted(found, key=lambda one: not one.second)


def _by_key(row: Json) -> str:
    return str(row["key"])


#: What, where in the base, how a row is known, and which of new, gone, changed needs two.
_ROWS: tuple[tuple[str, str, Key, tuple[str, ...]], ...] = (
    ("direction", "directions", _by_key, ("new", "gone", "changed")),
    ("station", "places", _by_key, ()),
    ("landmark", "landmarks", _by_key, ("changed",)),
    ("rail state", "states", _by_key, ("new", "gone", "changed")),
    ("train", "trains", _by_key, ("changed",)),
    ("signal", "signals", _by_key, ("gone", "changed")),
    ("brake test", "brake_tests", _by_key, ("gone", "changed")),
    (
        "short platform",
        "doors",
        lambda row: f"{row['target']}, {row['cars']} cars",
        ("new", "gone", "changed"),
    ),
    ("assumption", "assumptions", lambda row: str(row["what"]), ("changed",)),
)


def _values(
    what: str, old: Mapping[str, Any], new: Mapping[str, Any], *, second: bool
) -> Iterator[LineChange]:
    for name in sorted({*old, *new}):
        if old.get(name) != new.get(name):
            words = f"{_shown(old.get(name))} → {_shown(new.get(name))}"
            yield LineChange(what, name.replace("_", " "), words, second)


def _names(language: str, old: Json, new: Json) -> Iterator[LineChange]:
    """What is called otherwise in another language; hundreds that are new are one row."""
    for kind, some in (("new", new.keys() - old.keys()), ("gone", old.keys() - new.keys())):
        if some:
            yield LineChange("names", f"in {language}", f"{len(some)} {kind}", False)
    kept = sorted(old.keys() & new.keys())
    pairs = [{text: names[text] for text in kept} for names in (old, new)]
    yield from _values(f"name in {language}", *pairs, second=True)


def _rows(
    what: str, old: Sequence[Json], new: Sequence[Json], key: Key, asks: Sequence[str]
) -> Iterator[LineChange]:
    before, after = {key(row): row for row in old}, {key(row): row for row in new}
    for name in dict.fromkeys((*before, *after)):
        was, now = before.get(name), after.get(name)
        if was == now:
            continue
        kind = "new" if was is None else "gone" if now is None else "changed"
        words = kind if was is None or now is None else _differences(was, now)
        yield LineChange(what, _name(now or was or {}, name), words, kind in asks)


def _name(row: Json, key: str) -> str:
    return str(row.get("words") or row.get("name") or key)


def _differences(was: Json, now: Json) -> str:
    return "; ".join(
        f"{name} {_shown(was.get(name))} → {_shown(now.get(name))}"
        for name in dict.fromkeys((*was, *now))
        if was.get(name) != now.get(name)
    )


def _listed(old: Json, new: Json) -> Iterator[LineChange]:
    """A listed place that is gone or milder needs a second person; a harder one does not."""
    chain = [state["key"] for state in new["states"]]
    before = {row["key"]: row for row in old["listed"]}
    after = {row["key"]: row for row in new["listed"]}
    for key in dict.fromkeys((*before, *after)):
        was, now = before.get(key), after.get(key)
        if was == now:
            continue
        name = str((now or was or {})["name"])
        if was is None or now is None:
            yield LineChange("listed place", name, "new" if now else "gone", now is None)
            continue
        milder = _milder(was, now, chain)
        yield LineChange("listed place", name, _differences(was, now), milder)


def _milder(was: Json, now: Json, chain: Sequence[str]) -> bool:
    """Whether any place, day or direction that was listed is so no more, or less."""
    ranks = [chain.index(row["state"]) if row["state"] in chain else -1 for row in (was, now)]
    shorter = now["from_m"] > was["from_m"] or now["to_m"] < was["to_m"]
    fewer = not set(was["directions"]) <= set(now["directions"])
    season = now["season"] is not None and now["season"] != was["season"]
    return ranks[1] < ranks[0] or shorter or fewer or season


def _trips(old: Sequence[Json], new: Sequence[Json]) -> Iterator[LineChange]:
    """Times alone are no second person's matter; which stops a trip calls at is."""
    before, after = {row["key"]: row for row in old}, {row["key"]: row for row in new}
    for key in dict.fromkeys((*before, *after)):
        was, now = before.get(key), after.get(key)
        if was == now:
            continue
        name = str((now or was or {})["name"])
        if was is None or now is None:
            yield LineChange("trip", name, "new" if now else "gone", now is not None)
            continue
        calls = [[call["target"] for call in row["calls"]] for row in (was, now)]
        rest = [{k: v for k, v in row.items() if k != "calls"} for row in (was, now)]
        same = calls[0] == calls[1] and _but_start(rest[0]) == _but_start(rest[1])
        words = "times" if same else _trip_words(calls, rest)
        yield LineChange("trip", name, words, not same)


def _but_start(row: Json) -> Json:
    """Leave the minute of departure out: it is a time like the others."""
    starts = {**row["starts"], "depart": None} if row.get("starts") else None
    return {**row, "starts": starts, "name": None}


def _trip_words(calls: Sequence[Sequence[str]], rest: Sequence[Json]) -> str:
    gone = [key for key in calls[0] if key not in calls[1]]
    new = [key for key in calls[1] if key not in calls[0]]
    parts = [f"no longer calls at {', '.join(gone)}"] if gone else []
    parts += [f"calls at {', '.join(new)}"] if new else []
    if not parts and calls[0] != calls[1]:
        parts += ["calls in another order"]
    if rest[0] != rest[1]:
        parts += [_differences(rest[0], rest[1])]
    return "; ".join(parts)


Spans = list[tuple[str, float, float, Any]]


def _gradients(base: Json) -> Spans:
    return [("", float(a), float(b), value) for a, b, value in base["gradients"]]


def _limits(base: Json) -> Spans:
    return [
        (way, float(a), float(b), value)
        for way, rows in base["limits"].items()
        for a, b, value in rows
    ]


def _spans(what: str, old: Spans, new: Spans, unit: str | None) -> Iterator[LineChange]:
    """Name the stretches whose value changed. The cards show what that does, so one may."""
    if old == new:
        return
    for way in dict.fromkeys(one[0] for one in (*old, *new)):
        mine = [[one[1:] for one in spans if one[0] == way] for spans in (old, new)]
        cuts = sorted({end for spans in mine for one in spans for end in one[:2]})
        pieces: list[tuple[float, float, Any, Any]] = []
        for low, high in pairwise(cuts):
            was, now = (_value_at(spans, (low + high) / 2) for spans in mine)
            if was == now:
                continue
            if pieces and pieces[-1][1] == low and pieces[-1][2:] == (was, now):
                pieces[-1] = (pieces[-1][0], high, was, now)
            else:
                pieces.append((low, high, was, now))
        for low, high, was, now in pieces:
            where = stretch_along(low, high, unit) + (f", {way}" if way else "")
            yield LineChange(what, where, f"{_span(what, was)} → {_span(what, now)}", False)


def _value_at(spans: Sequence[tuple[float, float, Any]], at: float) -> Any:
    return next((value for low, high, value in spans if low <= at < high), None)


def _span(what: str, value: Any) -> str:
    if value is None:
        return "none"
    if what == "gradient":
        return "level" if not value else f"1 in {1 / abs(value):.0f} {_slope(value)}"
    return str(value)


def _slope(value: float) -> str:
    return "rising" if value > 0 else "falling"


def _shown(value: Any) -> str:
    if value is None:
        return "nothing"
    return f"{value:g}" if isinstance(value, float) else str(value)
