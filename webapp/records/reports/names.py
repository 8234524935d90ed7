"""The names of what a report only has keys for, out of the pack that the driver had in hand.

A key that no pack explains is shown as it came: nothing is guessed.
"""

from __future__ import annotations

import contextlib
from collections.abc import Iterable
from dataclasses import dataclass
from typing import Any

from sqlalchemy.orm import Session

from webapp.lines import in_use
from webapp.lines.base import Base, Train, line_name, name_of, unit_of
from webapp.lines.posts import place_along

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


def bases_of(session: Session, packs: Iterable[str]) -> dict[str, Base]:
    """Return the bases of packs; those that are not published here are left out.

    What tablets name is asked for in one question, however many packs they invent.
    """
    found = {}
    for pack in sorted(in_use.known(session, packs)):
        with contextlib.suppress(LookupError):
            found[pack] = in_use.base(session, pack)
    return found


def names(base: Base | None, body: Json) -> Names:
    """Put names in the place of keys."""
    trains, target = (() if base is None else base.trains), body["target"]
    train = next((one for one in trains if one.key == body["train"]), None)
    stop = None if base is None else base.target(target)
    at = body["at_m"]
    return Names(
        line=line_name(base, body["route"]),
        direction=name_of(base, "directions", body["direction"]),
        stop=target if stop is None else stop.words or target,
        at=None if at is None else place_along(at, unit_of(base), about=True),
        train=body["train"] if train is None else train.name,
        rail=name_of(base, "states", body["rail_state"]),
        step=_step(train, body["step"]),
    )


def _step(train: Train | None, step: str | None) -> str | None:
    """Return the name on the brake controller; a report knows three steps by number."""
    steps = () if train is None else train.steps
    if step is None or not step.isdigit() or len(steps) != 3:
        return step
    return steps[int(step) - 1].removeprefix("step ")
