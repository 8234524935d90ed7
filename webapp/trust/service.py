"""What the page on trust shows: the outside checks, and what rests on no source."""

from __future__ import annotations

from dataclasses import dataclass

from sqlalchemy.orm import Session

from webapp.publish import service as publish
from webapp.trust.checks import Check, Checks, Family, stored

__all__ = ["Assumption", "Check", "Checks", "Family", "assumptions", "stored"]

PREFIX = "assumption:"


@dataclass(frozen=True)
class Assumption:
    """One number that no source stands behind, and the lines it is used on."""

    what: str
    value: str
    basis: str
    lines: tuple[str, ...]


def assumptions(session: Session) -> tuple[list[str], list[Assumption]]:
    """Return the published lines, and every assumption that their packs state, once each."""
    lines: list[str] = []
    used: dict[tuple[str, str, str], list[str]] = {}
    for route in publish.current(session).routes:
        base = publish.base(session, str(route["pack"]))
        name = str(base["route"]["name"])
        lines.append(name)
        for entry in base["assumptions"]:
            basis = str(entry["basis"]).removeprefix(PREFIX).strip()
            key = (str(entry["what"]), str(entry["value"]), basis)
            on = used.setdefault(key, [])
            if name not in on:
                on.append(name)
    return lines, [Assumption(*key, tuple(names)) for key, names in used.items()]
