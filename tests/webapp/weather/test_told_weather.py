"""What tablets are told of the weather: each line hour by hour, whole each time."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from typing import Any

import pytest
from flask import Flask
from sqlalchemy import select

from tests.support.desk import desk_client
from tests.support.small_pack import small_pack
from tests.support.weather import LEAFY_PLACE, csv_file, full_hour, rows
from tests.webapp.weather.test_desk_weather import give, line, worse
from webapp.lines import in_use
from webapp.lines.base import Base
from webapp.publish import service as publisher
from webapp.records.weather import held
from webapp.records.weather.models import WeatherReading
from webapp.records.weather.outlook import leafy
from webapp.store.db import reading, writing

__all__ = ["line"]


def told(app: Flask, **headers: str) -> Any:
    return app.test_client().get("/api/weather", headers=headers)


def test_each_hour_is_told_from_the_one_before_the_present_to_36_ahead(line: Flask) -> None:
    assert told(line).get_json()["items"] == []
    give(desk_client(line), csv_file([*rows(ahead=4), *rows("8,3,0.2,3,8", back=-4)]))
    (item,) = told(line).get_json()["items"]
    assert item["line"] == "larch-valley"
    hours = item["hours"]
    first = datetime.fromisoformat(hours[0]["at"])
    assert (first, len(hours)) == (full_hour() - timedelta(hours=1), 38)
    # The file's rain begins in the row four hours after the last full one.
    assert hours[4] == {**hours[4], "state": "dry", "why": ["dry"]}
    assert hours[5] == {**hours[5], "state": "damp", "why": ["first-rain"]}


def test_nobody_is_named_and_why_a_person_made_it_worse_stays_at_the_desk(line: Flask) -> None:
    client = desk_client(line)
    give(client, csv_file(rows()), station="Larch airfield")
    worse(client)
    text = told(line).text
    assert not any(
        one in text for one in ("publish", "fog in the valley", "airfield", "hours.csv")
    )
    item = told(line).get_json()["items"][0]
    assert item["hours"][2] == {**item["hours"][2], "state": "frost", "why": ["desk", "dry"]}


def test_the_tag_holds_until_something_changes(line: Flask) -> None:
    client = desk_client(line)
    give(client, csv_file(rows()))
    tag = told(line).headers["ETag"]
    assert told(line, **{"If-None-Match": tag}).status_code == 304
    worse(client)
    assert told(line, **{"If-None-Match": tag}).status_code == 200


@pytest.mark.parametrize("hours", [13, -1])
def test_one_too_old_or_from_after_now_is_told_no_more(line: Flask, hours: int) -> None:
    give(desk_client(line), csv_file(rows()))
    with line.app_context(), writing() as session:
        for row in session.scalars(select(WeatherReading)):
            row.given_at = datetime.now(UTC) - timedelta(hours=hours)
    assert told(line).get_json()["items"] == []


def test_it_names_its_own_end(line: Flask) -> None:
    give(desk_client(line), csv_file(rows()))
    with line.app_context(), reading() as session:
        row = held.latest(session, "larch-valley")
        assert row is not None
        given_at = row.given_at
    ends = datetime.fromisoformat(told(line).get_json()["items"][0]["ends_at"])
    assert ends == given_at + held.TOO_OLD


def test_leaf_film_is_for_the_whole_line_only_where_nobody_lists_a_place_of_it() -> None:
    def base(listed: list[Any], falls: bool | None) -> Base:
        found: dict[str, Any] = {"listed": listed}
        return Base(found if falls is None else {**found, "proposals": {"leafy": falls}})

    damp = {**LEAFY_PLACE, "state": "damp"}
    assert leafy(base([], True)) and leafy(base([], None)) and leafy(base([damp], True))
    assert not leafy(base([LEAFY_PLACE], True)) and not leafy(base([], False))


def test_a_line_of_another_chain_is_left_out(app: Flask) -> None:
    with app.app_context(), writing() as session:
        publisher.publish(session, small_pack(), datetime.now(UTC))
        assert in_use.packs(session)
    answer = give(desk_client(app), csv_file(rows()))
    assert answer.status_code == 302
    assert told(app).get_json()["items"] == []
