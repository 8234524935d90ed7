"""What the pages of the desk ask of a depot that grows: as many questions, and by an index.

A few thousand rows are enough to see it; how quick it is with 200,000 `tests.benchmarks.desk`
prints.
"""

from __future__ import annotations

import re
import uuid
from collections.abc import Callable
from dataclasses import asdict, replace
from datetime import UTC, datetime

import pytest
from flask import Flask
from flask.testing import FlaskClient
from sqlalchemy import event

from tests.support.desk import desk_client
from tests.support.large_depot import RARE_WORD, Sizes, fill_large
from tests.support.queries import counted
from tests.support.whole_desk import desk_addresses, fill
from webapp.records.places.register import place_id
from webapp.store.db import db

SMALL = Sizes(
    **{"reports": 400, "tablets": 12, "live": 6, "drafts": 2, "ended": 30, "people": 4},
    **{"places": 6, "retired": 2, "declined": 4, "treatments": 60, "seals": 6},
    **{"slow": 4, "slow_ahead": 3, "slow_ended": 10},
)
LARGE = Sizes(**{name: 9 * size for name, size in asdict(SMALL).items()})
LIST = "/desk/reports"
#: A report and a place of `whole_desk`.
REPORT = uuid.UUID(int=11)
PLACE = place_id("larch-valley", "larch-cutting")
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
    f"{LIST}?q=slid": "ix_report_urgency",
    f"{LIST}?q=slid&sort=newest": "ix_report_newest",
    f"{LIST}?happened=overrun": "ix_report_urgency",
    f"{LIST}?rail=leaf": "ix_report_(rail_)?urgency",
    f"{LIST}?line=larch-valley&direction=down": "ix_report_(line_)?urgency",
    f"{LIST}?state=waiting": "ix_report_(state_)?urgency",
    f"{LIST}?apart=yes&sort=seen": "ix_report_(seen|apart)",
    # Near by, on the list and on the page of one report.
    f"{LIST}?state=repeat": "ix_report_on_line",
    f"{LIST}/{REPORT}": "ix_report_on_line",
    "/desk/places?show=proposed": "ix_report_(found|newest|seen|apart|on_line)",
    f"/desk/places/{PLACE}": "ix_treatment_place",
    "/desk/restrictions": "ix_restriction_(place|ended)",
    "/desk/restrictions?show=ended": "ix_restriction_ended",
}
#: Pages that show some of a register.
SOME = {
    LIST: ('<li class="report', 50),
    f"{LIST}?q=leaves": ('<li class="report', 50),
    f"{LIST}?state=reviewed&sort=newest": ('<li class="report', 50),
    "/desk/warnings?show=ended": ('href="/desk/warnings/[0-9a-f-]{36}"', 25),
    "/desk/places": ('<li class="report', 50),
    "/desk/places?show=retired": ('<li class="report', 50),
    "/desk/seals": ('<a href="/desk/seals/[0-9a-f-]{36}"', 50),
    "/desk/restrictions": ('<li class="report', 30),
    "/desk/restrictions?show=ended": ('<li class="report', 30),
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
    paths = [*desk_addresses(app, depot).values(), *BY_INDEX, *SOME, f"{LIST}?q={RARE_WORD}"]
    with app.app_context():
        fill_large(datetime.now(UTC), SMALL)
    few = costs(app, paths)
    with app.app_context():
        fill_large(datetime.now(UTC), LARGE, luck=2)
    # Where nothing stood before, names are asked for now: one question a list, not one a row.
    # The hand-over has three such lists.
    many = costs(app, paths)
    grown = {path: (few[path], n) for path, n in many.items()}
    assert {p: (a, b) for p, (a, b) in grown.items() if not a <= b <= a + 3} == {}
    assert max(many.values()) <= 28


def test_no_page_shows_all_there_is(make_app: Callable[..., Flask]) -> None:
    """Each list is longer than its page here, and its page is full."""
    app = make_app()
    fill(app)
    long = {"places": 60, "retired": 60, "seals": 60, "slow": 40, "slow_ended": 40}
    with app.app_context():
        fill_large(datetime.now(UTC), replace(SMALL, **long, treatments=600))
    client = desk_client(app, "publish", manages=True)
    shown = {path: len(set(_starts(client, path, what))) for path, (what, _) in SOME.items()}
    assert shown == {path: most for path, (_, most) in SOME.items()}


def _starts(client: FlaskClient, path: str, what: str) -> list[str]:
    """Return where each row of a list begins: as a link, else by its place in the page."""
    found = re.finditer(what, client.get(path).text)
    return [one[0] if "href" in what else str(one.start()) for one in found]


def test_a_search_walks_the_list_and_sorts_nothing(lone_large: Flask) -> None:
    """Else a word that half of all reports say has all of them fetched and sorted."""
    for order in ("matters", "newest", "oldest", "seen"):
        found = plans(lone_large, f"{LIST}?q=leaves&sort={order}")
        assert re.search("SCAN report USING INDEX ix_report_(urgency|newest|seen)", found)
        assert "SEARCH report USING INTEGER PRIMARY KEY (rowid=?)\nLIST SUBQUERY" not in found


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
        if not lite:  # of a few rows PostgreSQL rightly walks any table
            asking.execute("SET LOCAL enable_seqscan = off")
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
    r"SCAN (?:report|warning_receipt|warning_rev|audit|treatment|restriction|sealed_report"
    r"|report_answer|report_note|wheel_check|clearing_step)(?! USING)\b.*"
    r"|Seq Scan on (?:report|warning_receipt)\b.*"
)


def test_lists_are_read_by_their_index(young: Flask) -> None:
    found = {path: plans(young, path) for path in BY_INDEX}
    assert {
        path: one for path, one in found.items() if not re.search(BY_INDEX[path], one)
    } == {}


def test_no_list_reads_a_whole_table(lone_large: Flask) -> None:
    more = ("/desk/warnings", "/desk/tablets", "/desk/control", "/desk/seals", "/desk/places")
    walks = {path: WHOLE.findall(plans(lone_large, path)) for path in (*BY_INDEX, *more)}
    assert {path: found for path, found in walks.items() if found} == {}


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
