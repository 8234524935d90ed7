"""What a person at the desk may do. Each level includes the ones before it."""

from __future__ import annotations

from typing import Literal

Role = Literal["look", "review", "publish"]
Need = Literal["look", "review", "publish", "people", "self"]

LEVELS: tuple[Role, ...] = ("look", "review", "publish")
WORDS: dict[str, str] = {
    "look": "look: read everything at the desk",
    "review": "review: also work on reports, places and tablets",
    "publish": "publish: also publish, amend and end warnings, and publish packs",
}


def may(role: str, manages_people: bool, need: Need) -> bool:
    """Whether a person with this role meets a need; managing people is a right of its own."""
    if need == "self":
        return True
    if need == "people":
        return manages_people
    return LEVELS.index(_known(role)) >= LEVELS.index(need)


def _known(role: str) -> Role:
    # A role from a newer version must not open doors here.
    return next((level for level in LEVELS if level == role), "look")
