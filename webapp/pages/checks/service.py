"""What the page of checks shows: the outside checks, and what rests on no source."""

from __future__ import annotations

from sqlalchemy.orm import Session

from webapp.lines import in_use
from webapp.pages.checks.assumptions import Group, grouped, of_the_program
from webapp.publish import service as publish


def assumptions(session: Session) -> tuple[list[str], list[Group]]:
    """Return the published lines, and every number without a source in their packs."""
    routes = publish.current(session).routes
    bases = [in_use.base(session, str(route["pack"])) for route in routes]
    return [base.name for base in bases], grouped(bases) + of_the_program()
