"""A comparison of two packs as plain text for a terminal, and as JSON for a program."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import asdict
from typing import Any

from webapp.packs.compare import KINDS, TOP, Advice, Card, Comparison, StopChange

Json = dict[str, Any]
ALL_THE_WAY = -1
#: Cards of one stop that a terminal shows; the desk and `--json` show all.
CARDS_SHOWN = 3


def lines(found: Comparison, unit: str) -> Iterator[str]:
    """Give a comparison as lines of text, what needs a second person first."""
    if found.nothing:
        yield "No card and no row of the line changed."
        return
    if found.first:
        yield f"First pack of this line: {len({one.key for one in found.stops})} stops."
    yield f"{found.changed} of {found.cards} cards changed."
    for kind in KINDS:
        section = found.sections.get(kind, ())
        if not section or (found.first and kind == "gained"):
            continue
        heading = KINDS[kind].upper() if kind in TOP else KINDS[kind]
        yield f"\n{heading}: {_count(len(section), 'stop')}"
        for one in section:
            yield from _stop_lines(one, unit)
    yield from _line_lines(found)
    for switch in found.switches:
        way = "come into season" if switch.begins else "go out of season"
        moves = f"up to {switch.metres:.0f} m {'earlier' if switch.begins else 'later'}"
        yield (
            f"On {switch.day} listed places {way} by themselves: {switch.stop}, "
            f"{moves if switch.metres else 'no mark moves'}"
        )
    yield from _named(found)
    if found.unchanged and not found.first:
        yield f"\nUnchanged: {', '.join(found.unchanged)}"
    yield ""
    yield _second_line(found)


def _named(found: Comparison) -> Iterator[str]:
    """Name what a new pack lacks: the stops, by rail state, and what nobody surveyed."""
    for heading, those in (
        ("No state in hand", found.bare),
        ("No room for a weak brake or a late start", found.tight),
        ("Inferred, not surveyed", found.inferred),
    ):
        for words in those:
            yield f"{heading}: {words}"


def _second_line(found: Comparison) -> str:
    if found.second:
        return f"A second person has to approve this: {', '.join(found.second)}."
    return "One person may publish this: nothing asks less of a driver than before."


def _count(n: int, word: str) -> str:
    return f"{n} {word}{'' if n == 1 else 's'}"


def _stop_lines(one: StopChange, unit: str) -> Iterator[str]:
    yield f"  {one.name}: {len(one.cards)} of {one.of} cards"
    for card in one.cards[:CARDS_SHOWN]:
        yield f"    {card.case}: {change_words(card, unit)}"
    if len(one.cards) > CARDS_SHOWN:
        yield f"    and {_count(len(one.cards) - CARDS_SHOWN, 'card')} more"


def _line_lines(found: Comparison) -> Iterator[str]:
    if found.line:
        yield "\nRows of the line"
    for row in found.line:
        mark = " (second person)" if row.second else ""
        yield f"  {row.what}, {row.name}: {row.words}{mark}"


def change_words(card: Card, unit: str) -> str:
    """Say in one line how a card changed: where it begins, then what else did."""
    old, new = card.old, card.new
    if old is None or new is None:
        return f"{_advice_words(old, unit)} → {_advice_words(new, unit)}"
    parts = [f"{_begin(old)} → {_begin(new)}"]
    if old.step != new.step:
        parts.append(f"{old.step_name} → {new.step_name}")
    if old.run_in != new.run_in:
        parts.append(f"run in {run_in_words(old, unit)} → {run_in_words(new, unit)}")
    if "cover" in card.kinds:
        parts.append(f"cover {cover_words(old.cover)} → {cover_words(new.cover)}")
    if old.limit != new.limit:
        parts.append(f"limit {old.limit:.0f} → {new.limit:.0f} m")
    if old.worse != new.worse:
        parts.append(f"if worse {old.worse} → {new.worse}")
    parts += _speed_words(old, new, unit)
    return "; ".join(parts)


def _begin(one: Advice) -> str:
    return f"before {one.before} ({one.brake} m)"


def _advice_words(one: Advice | None, unit: str) -> str:
    if one is None:
        return "no advice"
    return f"{_begin(one)}, {one.step_name}, run in {run_in_words(one, unit)}"


def run_in_words(one: Advice, unit: str) -> str:
    """Return the run-in speed in words."""
    return f"{one.run_in} {unit}" if one.run_in else "none"


def cover_words(metres: int) -> str:
    """Return how much of one patch is covered, in words."""
    return "to the limit" if metres == ALL_THE_WAY else f"{metres} m"


def _speed_words(old: Advice, new: Advice, unit: str) -> list[str]:
    before = dict(old.speeds)
    return [
        f"not above {before[words]} → {speed} {unit} at {words}"
        for words, speed in new.speeds
        if words in before and before[words] != speed
    ]


def as_json(found: Comparison) -> Json:
    """Return a whole comparison for a program: nothing is left out."""
    return {
        "first": found.first,
        "cards": found.cards,
        "changed": found.changed,
        "second_person": found.second,
        "changes": {
            kind: [
                {
                    "stop": one.key,
                    "name": one.name,
                    "cards": [_card_json(card) for card in one.cards],
                }
                for one in section
            ]
            for kind, section in found.sections.items()
        },
        "unchanged": list(found.unchanged),
        "line": [asdict(row) for row in found.line],
        "season_dates": [asdict(one) for one in found.switches],
        "no_state_in_hand": list(found.bare),
        "no_room": list(found.tight),
        "inferred": list(found.inferred),
    }


def _card_json(card: Card) -> Json:
    return {
        "train": card.train_key,
        "state": card.state_key,
        "season": card.season,
        "old": asdict(card.old) if card.old else None,
        "new": asdict(card.new) if card.new else None,
        "size": dict(card.kinds),
    }
