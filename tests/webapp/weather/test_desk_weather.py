"""A line's weather at the desk: from a file to the next 36 hours, and changes by hand."""

from __future__ import annotations

import io
import re
from collections.abc import Iterator
from datetime import UTC, datetime, timedelta
from typing import Any

import pytest
from flask import Flask
from flask.testing import FlaskClient
from sqlalchemy import select

from tests.support.desk import account, desk_client, entered, form_token
from tests.support.weather import (
    LEAFY_PLACE,
    csv_file,
    full_hour,
    hourly_body,
    json_file,
    rows,
    weather_pack,
)
from webapp.publish import service as publisher
from webapp.records.weather import held
from webapp.records.weather.models import WeatherChange, WeatherReading
from webapp.store.db import reading, writing

PAGE = "/desk/weather/larch-valley"


@pytest.fixture
def line(app: Flask) -> Iterator[Flask]:
    app.config["DESK_ZONE"] = "UTC"
    with app.app_context(), writing() as session:
        publisher.publish(session, weather_pack(), datetime.now(UTC))
    yield app


def send(client: FlaskClient, what: str, **fields: Any) -> Any:
    token = form_token(client, PAGE)
    return client.post(f"{PAGE}/{what}", data={"csrf_token": token, **fields})


def give(client: FlaskClient, content: bytes, name: str = "hours.csv", **fields: Any) -> Any:
    return send(client, "read", file=(io.BytesIO(content), name), **fields)


def words(answer: Any) -> str:
    text = re.sub(r"\s+", " ", re.sub(r"<[^>]+>", " ", answer.text))
    return text.replace("&#39;", "'").replace("&#34;", '"').replace("&gt;", ">")


def table(client: FlaskClient) -> str:
    page = client.get(PAGE).text
    return words(
        type("Part", (), {"text": page[page.index("<tbody>") : page.index("</tbody>")]})
    )


def held_rows(app: Flask) -> list[WeatherReading]:
    with app.app_context(), reading() as session:
        found = list(session.scalars(select(WeatherReading).order_by(WeatherReading.read_at)))
        session.expunge_all()
        return found


def test_a_file_of_a_fine_day_proposes_dry_with_its_reason(line: Flask) -> None:
    client = desk_client(line)
    answer = give(client, csv_file(rows()), latitude="44.03", longitude="-20")
    assert answer.status_code == 302, words(answer)
    page = words(client.get(PAGE))
    assert "hours.csv" in page and "0 km from the line" in page
    assert "Dry no rain, and the air is far from its dew point nothing" in table(client)


def test_rain_after_dry_days_is_damp_from_its_hour_on(line: Flask) -> None:
    client = desk_client(line)
    give(client, csv_file([*rows(ahead=4), *rows("8,3,0.2,3,8", back=-4)]))
    said = table(client)
    assert said.index("Dry") < said.index("Damp first light rain after dry days")


def test_a_newer_file_replaces_the_older_one_whole(line: Flask) -> None:
    client = desk_client(line)
    give(client, csv_file([*rows(ahead=4), *rows("8,3,0.2,3,8", back=-4)]))
    give(client, csv_file(rows()))
    assert "Damp" not in table(client)
    assert len(held_rows(line)) == 2


def test_a_reading_goes_after_thirty_days(line: Flask) -> None:
    client = desk_client(line)
    give(client, csv_file(rows()))
    with line.app_context(), writing() as session:
        for row in session.scalars(select(WeatherReading)):
            row.read_at = datetime.now(UTC) - timedelta(days=31)
    give(client, csv_file(rows()))
    assert len(held_rows(line)) == 1


def test_an_answer_of_a_forecast_interface_is_read_as_it_stands(line: Flask) -> None:
    client = desk_client(line)
    assert give(client, json_file(hourly_body()), "answer.json").status_code == 302
    (row,) = held_rows(line)
    assert row.hours[0][1:] == [8.0, None, 3.0, 0.0, 3.0, 0.5, None]
    assert row.away_km is not None and row.away_km < 2
    assert "Dry" in table(client)


def test_a_station_far_away_is_said_and_one_too_far_is_refused(line: Flask) -> None:
    client = desk_client(line)
    give(client, csv_file(rows()), latitude="44.5", longitude="-20")
    assert "The station is 47 km from the line" in words(client.get(PAGE))
    answer = give(client, csv_file(rows()), latitude="-44", longitude="20")
    assert answer.status_code == 422 and "km from the line" in words(answer)


def test_times_past_their_hour_are_refused_with_the_last_of_them(line: Flask) -> None:
    client = desk_client(line)
    answer = give(client, csv_file(rows(back=30, ahead=0)))
    last = full_hour() - timedelta(hours=1)
    assert f"every hour in it has passed, its last is {last:%Y-%m-%dT%H:%MZ}" in words(answer)
    assert held_rows(line) == []


def test_a_gap_is_unknown_and_said(line: Flask) -> None:
    client = desk_client(line)
    give(client, csv_file([*rows(ahead=5), *rows(back=-8, ahead=20)]))
    page = words(client.get(PAGE))
    assert "3 of the next hours are missing in it: nothing is proposed there." in page
    assert "It ends before the 36 hours do." in page
    assert "unknown" in table(client)


def test_every_fault_of_a_file_is_named_and_nothing_of_it_kept(line: Flask) -> None:
    client = desk_client(line)
    lines = rows(ahead=2)
    lines[3] = lines[3].replace(",8,3,", ",8,30,")
    answer = give(client, csv_file(lines), "wrong.csv")
    assert answer.status_code == 422
    said = "Nothing of wrong.csv was taken in: 1 fault. wrong.csv, row 5, column dew_point_c"
    assert said in words(answer)
    assert held_rows(line) == []


THEIRS = "Zeit;Luft;Taupunkt;Regen;Wind"


def theirs(cells: str = "46,4;37,4;0,0;10,8") -> bytes:
    lines = [
        f"{full_hour() + timedelta(hours=n):%Y-%m-%d %H:%M};{cells}" for n in range(-5, 40)
    ]
    return "\n".join([THEIRS, *lines]).encode()


MAPPED = {
    **{"heading-time": "Zeit", "unit-time": "line"},
    **{"heading-air_c": "Luft", "unit-air_c": "degF"},
    **{"heading-dew_point_c": "Taupunkt", "unit-dew_point_c": "degF"},
    **{"heading-rain_mm": "Regen", "unit-rain_mm": "mm"},
    **{"heading-wind_mps": "Wind", "unit-wind_mps": "km/h"},
}


def test_columns_are_asked_for_once_and_remembered_for_the_line(line: Flask) -> None:
    client = desk_client(line)
    asked = give(client, theirs(), "theirs.csv")
    assert asked.status_code == 200 and "Which column is which? theirs.csv" in words(asked)
    assert held_rows(line) == []
    text = theirs().decode()
    answer = send(client, "read", content=text, name="theirs.csv", **MAPPED)
    assert answer.status_code == 302, words(answer)
    (row,) = held_rows(line)
    # 46.4 and 37.4 degF are 8 and 3 degC; 10.8 km/h are 3 m/s.
    assert row.hours[0][1:] == [8.0, None, 3.0, 0.0, 3.0, None, None]
    assert "Luft is air temperature, degF" in words(client.get(PAGE))
    assert give(client, theirs(), "next.csv").status_code == 302
    assert len(held_rows(line)) == 2
    again = give(client, theirs(), "again.csv", again="y")
    assert again.status_code == 200 and "Which column is which? again.csv" in words(again)


def test_a_fault_in_a_mapped_file_names_its_own_column(line: Flask) -> None:
    client = desk_client(line)
    answer = send(
        client, "read", content=theirs("warm;37;0;1").decode(), name="t.csv", **MAPPED
    )
    assert answer.status_code == 422
    assert "t.csv, row 2, column Luft: 'warm' is not a number" in words(answer)


def test_a_mapping_without_time_or_with_one_column_twice_is_asked_again(line: Flask) -> None:
    client = desk_client(line)
    chosen = {**MAPPED, "heading-time": "", "heading-rain_mm": "Wind"}
    answer = send(client, "read", content=theirs().decode(), name="t.csv", **chosen)
    assert "Say which column holds the time." in words(answer)
    assert "The column 'Wind' is used twice." in words(answer)


def test_typed_values_stand_over_the_file_and_make_it_no_younger(line: Flask) -> None:
    client = desk_client(line)
    give(client, csv_file(rows()))
    with line.app_context(), writing() as session:
        for row in session.scalars(select(WeatherReading)):
            row.read_at = row.given_at = datetime.now(UTC) - timedelta(hours=11)
    answer = send(client, "typed", air_c="8", dew_point_c="7", rain_mm="0.3", dry_hours="30")
    assert answer.status_code == 302, words(answer)
    first, second = held_rows(line)
    assert second.given_at == first.given_at
    assert second.source == "typed at the desk, over hours.csv"
    assert table(client).index("Damp") < table(client).index("Dry")


def test_typed_faults_stand_beside_their_fields(line: Flask) -> None:
    answer = send(desk_client(line), "typed", air_c="80", rain_mm="x")
    assert answer.status_code == 422
    assert "80 is not believed" in words(answer) and "'x' is not a number" in words(answer)


def worse(client: FlaskClient, state: str = "frost", hours: int = 3, **other: Any) -> Any:
    at = {
        name: f"{full_hour() + timedelta(hours=n):%Y-%m-%dT%H:%M}"
        for name, n in (("from_at", 0), ("until_at", hours))
    }
    return send(client, "worse", state=state, reason="fog in the valley", **{**at, **other})


def test_a_person_makes_hours_worse_and_only_another_takes_it_back(line: Flask) -> None:
    client = desk_client(line)
    give(client, csv_file(rows()))
    assert worse(client).status_code == 302
    said = table(client)
    assert "Frost Made worse by publish: fog in the valley." in said
    assert said.index("Frost") < said.index("Dry no rain")
    with line.app_context(), reading() as session:
        name = session.scalars(select(WeatherChange.id)).one()
    path = f"/desk/weather/changes/{name}/back"
    token = form_token(client, PAGE)
    mine = client.post(path, data={"csrf_token": token, "reason": "it has gone"})
    assert mine.status_code == 409 and "somebody else takes it back" in mine.text
    second = entered(line, account(line, "second"))
    token = form_token(second, PAGE)
    theirs_ = second.post(path, data={"csrf_token": token, "reason": "the fog has gone"})
    assert theirs_.status_code == 302
    assert "Frost Made worse" not in table(client)
    assert "by second: the fog has gone" in words(client.get(PAGE))


def test_made_worse_never_makes_an_hour_better(line: Flask) -> None:
    client = desk_client(line)
    give(client, csv_file(rows("8,3,0.2,3,8")))
    worse(client, state="dry")
    assert "Dry" not in table(client)


def test_a_change_has_an_end_within_the_page(line: Flask) -> None:
    client = desk_client(line)
    assert "At most 36 hours from now" in words(worse(client, hours=60))
    assert "Not after the start" in words(worse(client, hours=-3))
    answer = worse(client, state="very-low")
    assert answer.status_code == 422


def test_an_old_reading_says_that_tablets_propose_nothing(line: Flask) -> None:
    client = desk_client(line)
    give(client, csv_file(rows()))
    with line.app_context(), writing() as session:
        for row in session.scalars(select(WeatherReading)):
            row.given_at = datetime.now(UTC) - held.TOO_OLD - timedelta(minutes=1)
    assert "Older than 12 h: tablets propose nothing from it." in words(client.get(PAGE))
    assert "too old: nothing is proposed" in words(client.get("/desk/weather"))


def test_a_listed_place_keeps_its_own_state_in_the_picture(app: Flask) -> None:
    app.config["DESK_ZONE"] = "UTC"
    place = {**LEAFY_PLACE, "season": None}
    with app.app_context(), writing() as session:
        publisher.publish(session, weather_pack([place], leafy=True), datetime.now(UTC))
    client = desk_client(app)
    give(client, csv_file(rows()))
    page = client.get(PAGE).text
    picture = page[page.index("<svg") : page.index("</svg>")]
    assert "Fern Wood" in picture and "url(#w-slants)" in picture
    assert "<title>" not in picture and "Leaf film" not in table(client)


def test_who_may_only_look_is_offered_no_form(line: Flask) -> None:
    assert "Take in weather" not in desk_client(line, "look").get(PAGE).text


def test_an_unknown_line_is_not_there(line: Flask) -> None:
    answer = desk_client(line).get("/desk/weather/no-such")
    assert answer.status_code == 404 and "lists the lines" in answer.text
