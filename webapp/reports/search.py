"""Search in what reports say, alike on every database: all words, anywhere, any case."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from sqlalchemy import ColumnElement, or_, select

from webapp.reports.models import Report, ReportWords

LONGEST = 100
MOST_WORDS = 6
LARGEST_NUMBER = 2**63 - 1
FIELDS = ("text", "place", "target", "found", "weather", "rail_state", "train", "direction")


def searched(body: Mapping[str, Any]) -> str:
    """Return what the search looks through; never the driver's name."""
    said = [str(body.get(name) or "") for name in FIELDS]
    said += body.get("happened") or []
    return " ".join(part for part in said if part).casefold()


def matches(typed: str) -> list[ColumnElement[bool]]:
    """Return one condition for each word; a number is also the report's own."""
    return [_matches(word) for word in typed.casefold().split()[:MOST_WORDS]]


def _matches(word: str) -> ColumnElement[bool]:
    said = Report.server_no.in_(
        select(ReportWords.server_no).where(ReportWords.words.contains(word, autoescape=True))
    )
    if word.isascii() and word.isdigit() and int(word) <= LARGEST_NUMBER:
        return or_(Report.server_no == int(word), said)
    return said
