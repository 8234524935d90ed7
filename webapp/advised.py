"""What a pack's advice is called at the desk, and which season of it counts on a day."""

from __future__ import annotations

from typing import Any

Json = dict[str, Any]
OK, NO_STOP = 0, 1
W6 = "No advice here. Drive to the conditions."
NO_SPEED = "No speed is enough here. Special working: ask the signaller."
SPEED_UNITS = {"mph": "mph", "kmh": "km/h"}


def refusal(status: int) -> str:
    """Return the words that stand in place of figures."""
    return NO_SPEED if status == NO_STOP else W6


def begin(mark: Json | None) -> str:
    """Return where braking begins, by the landmark that the driver meets before it."""
    if mark is None:
        return "No mark on this line before the brake point"
    return f"{'No mark: begin' if mark['far'] else 'Begin'} before {mark['words']}"


def in_season(base: Json, target: Json, day: str) -> bool:
    """Whether any listed place of a stop counts on a local day, "YYYY-MM-DD"."""
    here = [one for one in base["listed"] if one["key"] in target["listed"]]
    return any(_within(one["season"], day[5:]) for one in here)


def _within(season: Json | None, now: str) -> bool:
    if season is None:
        return True
    low, high = str(season["from"]), str(season["to"])
    return low <= now <= high if low <= high else now >= low or now <= high
