"""Reports one after the other in the list as filtered, and several reviewed together."""

from __future__ import annotations

import re
from collections.abc import Callable
from typing import Any

import pytest
from flask import Flask
from flask.testing import FlaskClient
from sqlalchemy import select

from tests.support.desk import desk_client, submit
from tests.support.reports import item
from webapp.records.reports.models import Report
from webapp.store.audit import AuditEntry
from webapp.store.db import reading, writing

Send = Callable[..., list[dict[str, Any]]]
#: Numbers 1 to 6; what matters first: 3 (overrun), 2 (reportable), 5, 4 (expected), 6, 1.
SIX = (
    {"found": "good"},
    {"found": "reportable"},
    {"found": "good", "happened": ["overrun"]},
    {"found": "expected"},
    {"found": "expected"},
    {"found": "good"},
)
MATTERS = [3, 2, 5, 4, 6, 1]


@pytest.fixture
def ids(app: Flask, send: Send) -> dict[int, str]:
    found = {}
    for n, one in enumerate(SIX, 1):
        sent = item(n, **{"happened": [], **one})
        send(sent)
        found[n] = sent["id"]
    return found


def beside(client: FlaskClient, name: str, query: str = "") -> tuple[int | None, int | None]:
    shown = client.get(f"/desk/reports/{name}{query}").text
    found = [
        re.search(rf'rel="{rel}"[^>]*>\w+, no\. (\d+)', shown) for rel in ("prev", "next")
    ]
    before, after = (int(one[1]) if one else None for one in found)
    return before, after


def state(app: Flask, no: int) -> tuple[bool, int]:
    with app.app_context(), reading() as session:
        row = session.get_one(Report, no)
        return row.reviewed_at is not None, row.version


def acted(app: Flask) -> list[str]:
    with app.app_context(), reading() as session:
        rows = session.scalars(select(AuditEntry).where(AuditEntry.what == "report.reviewed"))
        return sorted(row.subject for row in rows)


@pytest.mark.parametrize(
    ("query", "order"),
    [
        ("", MATTERS),
        ("?found=good", [3, 6, 1]),
        ("?sort=oldest", [1, 2, 3, 4, 5, 6]),
        ("?sort=newest&found=expected", [5, 4]),
    ],
)
def test_previous_and_next_go_through_the_list_as_filtered(
    app: Flask, ids: dict[int, str], query: str, order: list[int]
) -> None:
    client = desk_client(app, "look")
    for before, no, after in zip([None, *order], order, [*order[1:], None], strict=False):
        assert beside(client, ids[no], query) == (before, after), no


def test_after_a_review_the_next_opens_and_the_last_leads_to_the_list(
    app: Flask, ids: dict[int, str]
) -> None:
    client, gone = desk_client(app, "review"), []
    at = f"/desk/reports/{ids[3]}?found=good"
    for no, then in (
        (3, f"{ids[6]}?found=good"),
        (6, f"{ids[1]}?found=good"),
        (1, "?found=good"),
    ):
        path = at.replace("?", "/review?")
        version = state(app, no)[1]
        answer = submit(client, path, at=at, version=version)
        at = answer.headers["Location"]
        assert answer.status_code == 302 and at.endswith(then), at
        assert f"No. {no} is marked as reviewed." in client.get(at).text
        gone.append(no)
    # A reviewed one keeps its place among those that wait.
    assert beside(client, ids[3]) == (None, 2)
    assert beside(client, ids[6]) == (4, None)
    assert beside(client, ids[6], "?state=reviewed&sort=oldest") == (3, None)


def picks(app: Flask, ids: dict[int, str], *numbers: int) -> list[str]:
    return [f"{ids[no]}~{state(app, no)[1]}" for no in numbers]


def test_several_are_reviewed_together_and_what_needs_a_decision_is_left(
    app: Flask, ids: dict[int, str]
) -> None:
    client = desk_client(app, "review")
    shown = client.get("/desk/reports").text
    offered = re.findall(r'name="pick" value="([0-9a-f-]{36})~1"', shown)
    assert sorted(offered) == sorted(ids[no] for no in (1, 4, 5, 6))
    sent = picks(app, ids, 1, 4, 3, 2, 5)
    with app.app_context(), writing() as session:
        session.get_one(Report, 5).version += 1
    answer = submit(client, "/desk/reports/review?sort=newest", at="/desk/reports", pick=sent)
    assert answer.headers["Location"] == "/desk/reports?sort=newest"
    said = client.get(answer.headers["Location"]).text
    assert "2 reviewed together." in said
    for no, why in ((3, "overrun"), (2, "reportable"), (5, "somebody did something with it")):
        assert re.search(rf"Not reviewed: no\. {no}: {why}[^<]*\. Open it\.", said), no
    assert {no: state(app, no)[0] for no in ids} == {no: no in (1, 4) for no in ids}
    # Each has its own row in the audit.
    assert acted(app) == sorted((ids[1], ids[4]))
    again = submit(client, "/desk/reports/review", at="/desk/reports", pick=sent[:1])
    assert "None was reviewed." in client.get(again.headers["Location"]).text


def test_what_is_kept_apart_is_never_reviewed_with_others(
    app: Flask, ids: dict[int, str]
) -> None:
    with app.app_context(), writing() as session:
        session.get_one(Report, 1).quarantined = True
    client = desk_client(app, "review")
    sent = picks(app, ids, 1)
    assert sent[0] not in client.get("/desk/reports").text
    submit(client, "/desk/reports/review", at="/desk/reports", pick=sent)
    assert "kept apart" in client.get("/desk/reports").text
    assert not state(app, 1)[0]


@pytest.mark.parametrize(
    ("pick", "status", "words"),
    [
        ([], 302, "Nothing was ticked"),
        (["x"], 422, "Load the list of reports again"),
        (["-" * 36 + "~1"], 422, "Load the list of reports again"),
        (["0192f0c1-0000-4000-8000-0000000000ff~1"], 404, "No report with this id"),
        (["0192f0c1-0000-4000-8000-0000000000ff~1"] * 51, 422, "Load the list of reports"),
    ],
)
def test_ticks_that_are_none_change_nothing(
    app: Flask, ids: dict[int, str], pick: list[str], status: int, words: str
) -> None:
    client = desk_client(app, "review")
    good = picks(app, ids, 1) if status == 404 else []
    answer = submit(client, "/desk/reports/review", at="/desk/reports", pick=good + pick)
    assert answer.status_code == status
    shown = client.get(answer.headers["Location"]) if status == 302 else answer
    assert words in shown.text
    assert acted(app) == []


def test_who_only_looks_is_offered_no_tick(app: Flask, ids: dict[int, str]) -> None:
    client = desk_client(app, "look")
    assert 'name="pick"' not in client.get("/desk/reports").text


def test_a_report_under_a_wrong_filter_says_what_is_wrong(
    app: Flask, ids: dict[int, str]
) -> None:
    answer = desk_client(app, "look").get(
        f"/desk/reports/{ids[1]}?place=moon", headers={"Accept": "text/html"}
    )
    assert answer.status_code == 422 and "Choose the line too" in answer.text
