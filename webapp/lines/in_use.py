"""The lines as their packs in use know them, and places as their posts count them."""

from __future__ import annotations

from typing import Any

from sqlalchemy.orm import Session

from webapp.lines.posts import name_of as name_of
from webapp.publish import service as publisher

Json = dict[str, Any]


def bases(session: Session) -> dict[str, Json]:
    """Return the base of the pack in use, by line."""
    return {key: publisher.base(session, sha) for key, sha in packs(session).items()}


def packs(session: Session) -> dict[str, str]:
    """Return the name of the pack in use, by line."""
    return {route["key"]: route["pack"] for route in publisher.current(session).routes}


def table(session: Session, pack: str) -> Json:
    """Return the table of a published pack."""
    return publisher.table(session, pack)


def stops_within(base: Json, direction: str, from_m: float, to_m: float) -> list[Json]:
    """Return the stops and buffers whose approach a stretch of line reaches into.

    As the tablet does it (static/core/warnings.js `meets`): from the reach before the mark
    to the limit, of any train of the pack.
    """
    sign = next((d["sign"] for d in base["directions"] if d["key"] == direction), 1)
    found: list[Json] = []
    for target in base.get("targets", []):
        if target["direction"] != direction or target["kind"] == "reduction":
            continue
        spans = [span for span in _approaches(target, sign) if span]
        ways = sorted((sign * from_m, sign * to_m))
        if any(ways[1] >= begins and ways[0] <= ends for begins, ends in spans):
            found.append(target)
    return found


def _approaches(target: Json, sign: int) -> list[tuple[float, float] | None]:
    """Return begin and end of each train's approach, in the direction of travel."""
    return [
        None
        if mark is None
        else (sign * mark - (reach or 0), max(sign * mark, sign * (limit or mark)))
        for mark, limit, reach in zip(
            target["mark_m"], target["limit_m"], target["reach_m"], strict=True
        )
    ]
