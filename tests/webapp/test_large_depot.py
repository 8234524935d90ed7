"""What the pages of the desk ask of a depot that grows: as many questions, and by an index.

A few thousand rows are enough to see it; how quick it is with 200,000 `tests.benchmarks.desk`
prints.
"""

from __future__ import annotations

import re
from collections.abc import Callable
from datetime import UTC, datetime

import pytest
from flask import Flask
from sqlalchemy import event

from tests.support.desk import desk_client
from tests.support.large_depot import RARE_WORD, Sizes, fill_large
from tests.support.queries import counted
from tests.support.whole_desk import desk_addresses, fill
from webapp.db import db

SMALL = Sizes(reports=400, tablets=12, live=6, drafts=2, ended=30, people=4)
LARGE = Sizes(reports=3_600, tablets=108, live=54, drafts=18, ended=270, people=36)
LIST = "/desk/reports"
#: Address, and what must carry it: an index on either store.
BY_INDEX = {
    LIST: "ix_report_urgency",
    f"{LIST}?sort=newest": "ix_report_newest",
    f"{LIST}?sort=oldest": "ix_report_newest",
    f"{LIST}?sort=seen": "ix_report_seen",
    f"{LIST}?found=reportable&sort=newest": "ix_report_(found|newest)",
    f"{LIST}?state=waiting&sort=newest": "ix_report_(waiting|newest)",
    f"{LIST}?state=reviewed&sort=newest": "ix_report_(waiting|newest)",
    f"{LIST}?apart=yes&sort=newest": "ix_report_(apart|newest)",
    f"{LIST}?line=larch-valley&sort=seen": "ix_report_(on_line|seen)",
    f"{LIST}?since=2020-01-01&until=2020-02-01&sort=seen": "ix_report_seen",
    "/desk/fleet": "ix_report_flats",
    "/desk/handover": "ix_audit_at",
}


@pytest.fixture
def young(app: Flask) -> Flask:
    fill(app)
    with app.app_context():
        fill_large(datetime.now(UTC), SMALL)
    return app


def costs(app: Flask, paths: list[str]) -> dict[str, int]:
    """How many questions each page asks when what never changes has been read once."""
    client, found = desk_client(app, "publish", manages=True), {}
    for path in paths:
        client.get(path)
        with counted(app) as asked:
            assert client.get(path).status_code in (200, 302), path
        found[path] = len(asked)
    return found


def test_every_page_asks_as_many_questions_at_a_depot_ten_times_as_large(
    make_app: Callable[..., Flask],
) -> None:
    """Of every page there is: the list comes from the URL map."""
    app = make_app()
    depot = fill(app)
    paths = [*desk_addresses(app, depot).values(), *BY_INDEX, f"{LIST}?q={RARE_WORD}"]
    with app.app_context():
        fill_large(datetime.now(UTC), SMALL)
    few = costs(app, paths)
    with app.app_context():
        fill_large(datetime.now(UTC), LARGE, luck=2)
    # Where nothing stood before, names are asked for now: a question or two, not one a row.
    many = costs(app, paths)
    assert {path: n for path, n in many.items() if not few[path] <= n <= few[path] + 2} == {}
    assert max(many.values()) <= 26


def test_no_page_shows_all_there_is(young: Flask) -> None:
    client = desk_client(young, "publish", manages=True)
    for path in (LIST, f"{LIST}?sort=newest", f"{LIST}?state=reviewed"):
        assert len(re.findall(r'<li class="report', client.get(path).text)) <= 50, path
    ended = client.get("/desk/warnings?show=ended").text
    assert len(set(re.findall(r'href="/desk/warnings/([0-9a-f-]{36})"', ended))) == 25


def plans(app: Flask, path: str) -> str:
    """How the store means to answer each question of a page."""
    found: list[str] = []
    client = desk_client(app, "publish", manages=True)
    lite = app.config["SQLALCHEMY_DATABASE_URI"].startswith("sqlite")
    explain = "EXPLAIN QUERY PLAN " if lite else "EXPLAIN "

    def note(
        _link: object, cursor: object, statement: str, values: object, *_: object
    ) -> None:
        if not statement.lstrip().startswith("SELECT") or "FOR UPDATE" in statement:
            return
        asking = cursor.connection.cursor()  # type: ignore[attr-defined]
        asking.execute(explain + statement, values)
        found.append("\n".join(str(row[-1]) for row in asking.fetchall()))
        asking.close()

    with app.app_context():
        engine = db.engine
    event.listen(engine, "before_cursor_execute", note)
    try:
        assert client.get(path).status_code == 200
    finally:
        event.remove(engine, "before_cursor_execute", note)
    return "\n".join(found)


#: A walk over a whole table of reports or receipts, as either store says it. A table that
#: is read in the order of an index until a page is full is no such walk.
WHOLE = re.compile(
    r"SCAN (?:report|report_words|warning_receipt)(?! USING)\b.*"
    r"|Seq Scan on (?:report|warning_receipt)\b.*"
)


@pytest.mark.parametrize("path", BY_INDEX)
def test_lists_are_read_by_their_index(young: Flask, path: str) -> None:
    found = plans(young, path)
    assert re.search(BY_INDEX[path], found), found


@pytest.mark.parametrize("path", [*BY_INDEX, "/desk/warnings", "/desk/tablets"])
def test_no_list_reads_a_whole_table(lone_large: Flask, path: str) -> None:
    assert WHOLE.findall(plans(lone_large, path)) == []


@pytest.fixture
def lone_large(make_app: Callable[..., Flask]) -> Flask:
    """On SQLite: PostgreSQL rightly walks a table of a few thousand rows."""
    app = make_app()
    fill(app)
    with app.app_context():
        fill_large(datetime.now(UTC), SMALL)
    return app


def test_a_walk_over_a_whole_table_is_found() -> None:
    assert WHOLE.search("SCAN report") and WHOLE.search("Seq Scan on report  (cost=0)")
    assert not WHOLE.search("SCAN report USING INDEX ix_report_newest")
