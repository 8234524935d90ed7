"""What the page of checks shows: the outside checks, and what rests on no source."""

from __future__ import annotations

from sqlalchemy.orm import Session

from webapp.pages.checks.assumptions import Group, grouped, of_the_program
from webapp.pages.checks.checks import Check, Checks, Family, stored
from webapp.publish import service as publish

__all__ = ["Check", "Checks", "Family", "Group", "assumptions", "stored"]


def assumptions(session: Session) -> tuple[list[str], list[Group]]:
    """Return the published lines, and every number without a source in their packs."""
    routes = publish.current(session).routes
    bases = [publish.base(session, str(route["pack"])) for route in routes]
    return [str(base["route"]["name"]) for base in bases], grouped(bases) + of_the_program()
