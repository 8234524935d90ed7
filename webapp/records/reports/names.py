"""The names of what a report only has keys for, out of the pack that the driver had in hand.

A key that no pack explains is shown as it came: nothing is guessed.
"""

from __future__ import annotations

import contextlib
from collections.abc import Iterable
from dataclasses import dataclass
from typing import Any

from sqlalchemy.orm import Session

from webapp.lines import in_use, posts
from webapp.lines.posts import row_of

Json = dict[str, Any]


@dataclass(frozen=True)
class Names:
    """What the desk page prints; None where the report says nothing."""

    line: str | None
    direction: str | None
    stop: str | None
    at: str | None
    train: str | None
    rail: str | None
    step: str | None


def bases_of(session: Session, packs: Iterable[str]) -> dict[str, Json]:
    """Return the bases of packs; those that are not published here are left out.

    What tablets name is asked for in one question, however many packs they invent.
    """
    found = {}
    for pack in sorted(in_use.known(session, packs)):
        with contextlib.suppress(LookupError):
            found[pack] = in_use.base(session, pack)
    return found


def names(base: Json | None, body: Json) -> Names:
    """Put names in the place of keys."""
    base = base or {}
    train = row_of(base, "trains", body["train"])
    return Names(
        line=base.get("route", {}).get("name", body["route"]),
        direction=row_of(base, "directions", body["direction"]).get("name", body["direction"]),
        stop=_stop(row_of(base, "targets", body["target"])) or body["target"],
        at=_at(base, body["at_m"]),
        train=train.get("name", body["train"]),
        rail=row_of(base, "states", body["rail_state"]).get("name", body["rail_state"]),
        step=_step(train, body["step"]),
    )


def _stop(target: Json) -> str | None:
    if target.get("platform"):
        return f"{target['name']}, platform {target['platform']}"
    return target.get("name")


def _step(train: Json, step: str | None) -> str | None:
    """Return the name on the brake controller; a report knows three steps by number."""
    steps: list[str] = train.get("steps", [])
    if step is None or not step.isdigit() or len(steps) != 3:
        return step
    return steps[int(step) - 1].removeprefix("step ")


def _at(base: Json, metres: float | None) -> str | None:
    """Return a place as the line's posts count it."""
    if metres is None:
        return None
    return posts.place_along(metres, posts.unit_of(base), about=True)
