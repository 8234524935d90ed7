"""Search in what reports say, alike on every database: all words, anywhere, any case."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from sqlalchemy import ColumnElement, Integer, or_, select
from sqlalchemy.ext.compiler import compiles
from sqlalchemy.sql.compiler import SQLCompiler
from sqlalchemy.sql.functions import FunctionElement

from webapp.records.reports.models import Report, ReportWords

LONGEST = 100
MOST_WORDS = 6
LARGEST_NUMBER = 2**63 - 1
FIELDS = ("text", "place", "target", "found", "weather", "rail_state", "train", "direction")


class _Asked(FunctionElement[int]):
    """A column that is to be asked of each row, not to find rows by.

    SQLite else fetches every report that has a common word and sorts them all: 0.4 s of
    200,000 for a first page of 50. So it walks the list's own index until the page is full.
    PostgreSQL counts what a word may cost and needs no hint.
    """

    type = Integer()
    inherit_cache = True


@compiles(_Asked)
def _plain(element: _Asked, compiler: SQLCompiler, **how: Any) -> str:
    return compiler.process(element.clauses, **how)


@compiles(_Asked, "sqlite")
def _hinted(element: _Asked, compiler: SQLCompiler, **how: Any) -> str:
    return f"+{compiler.process(element.clauses, **how)}"


def searched(body: Mapping[str, Any]) -> str:
    """Return what the search looks through; never the driver's name."""
    said = [str(body.get(name) or "") for name in FIELDS]
    said += body.get("happened") or []
    return " ".join(part for part in said if part).casefold()


def matches(typed: str) -> list[ColumnElement[bool]]:
    """Return one condition for each word; a number is also the report's own."""
    return [_matches(word) for word in typed.casefold().split()[:MOST_WORDS]]


def _matches(word: str) -> ColumnElement[bool]:
    said = _Asked(Report.server_no).in_(
        select(ReportWords.server_no).where(ReportWords.words.contains(word, autoescape=True))
    )
    if word.isascii() and word.isdigit() and int(word) <= LARGEST_NUMBER:
        return or_(Report.server_no == int(word), said)
    return said
