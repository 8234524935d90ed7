"""What a pack's advice is called at the desk, and which season of it counts on a day."""

from __future__ import annotations

from typing import Any

Json = dict[str, Any]
OK, NO_STOP = 0, 1
NOTHING_ADDED = 2
W6 = "No advice here. Drive to the conditions."
NO_SPEED = "No speed is enough here. Special working: ask the signaller."
SPEED_UNITS = {"mph": "mph", "kmh": "km/h"}


def is_advised(found: Json) -> bool:
    """Whether the card has advice; without a mark to begin before it has none."""
    nothing = bool(found["flags"] & NOTHING_ADDED)
    return bool(found["status"] == OK and (nothing or found["mark"] is not None))


def first_line(base: Json, found: Json, target: Json, train: Json) -> str:
    """Return the line under the name of a card: where braking begins, or why nowhere."""
    if not is_advised(found):
        signed = base.get("signed_words", {}).get("en", {})
        return NO_SPEED if found["status"] == NO_STOP else str(signed.get("W6", W6))
    if found["flags"] & NOTHING_ADDED:
        return "No mark added." if target["kind"] == "buffers" else "Nothing added."
    mark, step = found["mark"], str(train["steps"][found["step"]])
    if mark["far"]:
        return f"No mark: begin before {mark['words']}"
    return f"Begin before {mark['words']}, {f'step {step}' if step[:1].isdigit() else step}"


def in_season(base: Json, target: Json, day: str) -> bool:
    """Whether any listed place of a stop counts on a local day, "YYYY-MM-DD"."""
    here = [one for one in base["listed"] if one["key"] in target["listed"]]
    return any(within_season(one["season"], day[5:]) for one in here)


def within_season(season: Json | None, now: str) -> bool:
    """Whether a listed place counts on a day, "MM-DD"; without a season it always does."""
    if season is None:
        return True
    low, high = str(season["from"]), str(season["to"])
    return low <= now <= high if low <= high else now >= low or now <= high
