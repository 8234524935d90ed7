"""The trip log at the depot: sums, added once, of which nobody can tell whose they are."""

from __future__ import annotations

import uuid
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from typing import Any

import pytest
from flask import Flask
from flask.testing import FlaskClient
from sqlalchemy import inspect

from tests.support.reports import CHANGE, INSTALL, batch, item
from webapp.records import counts as service
from webapp.store.db import db, reading

Send = Callable[..., list[dict[str, Any]]]


def cell(**changes: Any) -> dict[str, Any]:
    return {
        "route": "larch-valley",
        "target": "harrowmere/down",
        "hour": 6,
        "rail_state": "damp",
        "train_type": "disc",
        "n": 1,
        **changes,
    }


def counts(*cells: dict[str, Any], **changes: Any) -> dict[str, Any]:
    body = {"month": "2026-11", "cells": list(cells) or [cell()]}
    return {"kind": "counts", "id": str(uuid.uuid4()), "body": body, **changes}


def sums(app: Flask) -> dict[Any, int]:
    with app.app_context(), reading() as session:
        return service.sums(session)


def key(enrolled: bool = True, **changes: Any) -> service.Sum:
    one = cell(**changes)
    names = ("route", "target", "hour", "rail_state", "train_type")
    return ("2026-11", *(one[name] for name in names), enrolled)  # type: ignore[return-value]


def test_cells_of_many_tablets_become_one_sum(app: Flask, send: Send) -> None:
    answers = send(counts(cell(n=2), cell(hour=7)), counts(cell(n=3)))
    assert [answer["result"] for answer in answers] == ["created", "created"]
    assert sums(app) == {key(): 5, key(hour=7): 1}


def test_r28_a_repeat_is_answered_the_same_and_added_once(app: Flask, send: Send) -> None:
    """The answer was lost: the tablet sends the item again."""
    one = counts(cell(n=4))
    first, again = send(one)[0], send(one)[0]
    assert (first["result"], again["result"]) == ("created", "duplicate")
    same = ("id", "server_no", "received_at")
    assert [first[name] for name in same] == [again[name] for name in same]
    assert first["server_no"] is None
    assert sums(app) == {key(): 4}


def test_r28_the_same_id_with_other_counts_changes_nothing(app: Flask, send: Send) -> None:
    one = counts(cell(n=4))
    send(one)
    other = send({**one, "body": {**one["body"], "cells": [cell(n=9)]}})[0]
    assert (other["result"], other["code"]) == ("rejected", "id_reused")
    assert sums(app) == {key(): 4}


def test_r27_twenty_threads_hand_in_one_item(app: Flask, tablet: FlaskClient) -> None:
    one = counts(cell(n=4))
    cookie = tablet.get_cookie("sih-tablet")
    assert cookie is not None

    def work(_n: int) -> Any:
        client = app.test_client()
        client.set_cookie("sih-tablet", cookie.value)
        return client.post("/api/outbox", json=batch(one), headers=CHANGE).get_json()

    with ThreadPoolExecutor(8) as pool:
        answers = [answer["results"][0] for answer in pool.map(work, range(20))]
    assert {answer["result"] for answer in answers} == {"created", "duplicate"}
    assert sum(answer["result"] == "created" for answer in answers) == 1
    assert len({answer["received_at"] for answer in answers}) == 1
    assert sums(app) == {key(): 4}


def test_many_tablets_add_to_the_same_sums_without_waiting_in_a_circle(
    app: Flask, tablet: FlaskClient
) -> None:
    cookie = tablet.get_cookie("sih-tablet")
    assert cookie is not None

    def work(n: int) -> None:
        client = app.test_client()
        client.set_cookie("sih-tablet", cookie.value)
        cells = [cell(hour=hour) for hour in range(12)]
        sent = batch(counts(*(cells if n % 2 else cells[::-1])))
        answer = client.post("/api/outbox", json=sent, headers=CHANGE)
        assert answer.get_json()["results"][0]["result"] == "created"

    with ThreadPoolExecutor(8) as pool:
        list(pool.map(work, range(24)))
    assert sums(app) == {key(hour=hour): 24 for hour in range(12)}


def test_what_a_tablet_that_is_not_enrolled_counts_waits_on_it(app: Flask, send: Send) -> None:
    send(counts(cell(n=2)))
    stranger = app.test_client()
    one = batch(counts(cell(n=7)))
    answer = stranger.post("/api/outbox", json=one, headers=CHANGE).get_json()
    assert [result["result"] for result in answer["results"]] == ["retry"]
    assert sums(app) == {key(): 2}
    stranger.get("/")  # enrols it
    stranger.post("/api/outbox", json=one, headers=CHANGE)
    assert sums(app) == {key(): 9}


def test_the_tables_have_no_room_for_who_or_when(app: Flask) -> None:
    """Neither tablet, installation, trip, train, position nor a time finer than a day."""
    with app.app_context():
        columns = {
            table: {column["name"]: str(column["type"]) for column in
                    inspect(db.engine).get_columns(table)}
            for table in ("approach_count", "count_item")
        }  # fmt: skip
        keys = [
            foreign
            for table in columns
            for foreign in inspect(db.engine).get_foreign_keys(table)
        ]
    assert set(columns["approach_count"]) == {
        *("month", "line_key", "target", "hour", "rail_state", "train_type", "enrolled", "n")
    }
    assert set(columns["count_item"]) == {"id", "payload_sha", "received_on"}
    assert columns["count_item"]["received_on"] == "DATE"
    assert keys == []


def test_nothing_in_any_table_joins_counts_to_the_tablet_that_sent_them(
    app: Flask, send: Send, rows: Callable[[str], list[tuple[Any, ...]]]
) -> None:
    one = counts(cell(n=4))
    send(item(), one)
    said = repr(rows("SELECT * FROM approach_count") + rows("SELECT * FROM count_item"))
    device = rows("SELECT id FROM device")[0][0]
    for known in (INSTALL, str(device), str(device).replace("-", "")):
        assert known not in said and known.replace("-", "") not in said
    with app.app_context():
        tables = inspect(db.engine).get_table_names()
    for table in sorted(set(tables) - {"count_item"}):
        assert one["id"] not in repr(rows(f"SELECT * FROM {table}")), table
        assert one["id"].replace("-", "") not in repr(rows(f"SELECT * FROM {table}")), table


@pytest.mark.parametrize(
    ("change", "field"),
    [
        ({"hour": 24}, "hour"),
        ({"hour": 6.5}, "hour"),
        ({"n": 0}, "n"),
        ({"n": -3}, "n"),
        ({"target": ""}, "target"),
        ({"trip": "d0512"}, "trip"),
        ({"minute": 40}, "minute"),
        ({"position": {"lat": 54, "lon": -2}}, "position"),
        ({"train": "disc-4"}, "train"),
    ],
)
def test_a_cell_that_says_more_or_nonsense_is_refused(
    app: Flask, send: Send, change: dict[str, Any], field: str
) -> None:
    answer = send(counts({**cell(), **change}))[0]
    assert answer["result"] == "rejected"
    assert field in answer["errors"]["body"]["cells"]["0"]
    assert sums(app) == {}


@pytest.mark.parametrize(
    "change",
    [
        {"seq": 3},
        {"observed_at": "2026-11-25T06:40:00Z"},
        {"body": {"month": "2026-11-25", "cells": [cell()]}},
        {"body": {"month": "2026-13", "cells": [cell()]}},
        {"body": {"month": "2026-11", "cells": []}},
        {"body": {"month": "2026-11", "cells": [cell()] * 501}},
        {"body": {"month": "2026-11", "day": 25, "cells": [cell()]}},
    ],
)
def test_an_item_that_says_more_or_nothing_is_refused(send: Send, change: Any) -> None:
    assert send(counts(**change))[0]["result"] == "rejected"
