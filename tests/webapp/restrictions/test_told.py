"""What tablets are told of restrictions: all that nobody has ended, whole each time."""

from __future__ import annotations

from typing import Any

from flask import Flask
from flask.testing import FlaskClient

from tests.support.desk import desk_client, submit
from tests.support.queries import counted
from tests.webapp.restrictions.test_restrictions import END, at, line, note, only, rows

__all__ = ["line"]


def told(client: FlaskClient, **headers: str) -> Any:
    return client.get("/api/restrictions", headers=headers)


def test_what_is_live_or_to_come_is_told_and_what_a_person_ended_is_not(line: Flask) -> None:
    client = desk_client(line)
    note(client, until_at=at(hours=-1))
    row = only(line)
    note(client, from_at=at(days=1), from_place="3m 00ch", to_place="3m 10ch")
    first, second = told(line.test_client()).get_json()["items"]
    # Past its end, and nobody has ended it: tablets keep it.
    assert first == {
        **{"id": str(row.id), "rev": 1, "line": "larch-valley", "direction": "down"},
        **{"datum": "from the buffers at Old Larch", "from_m": 3621.02, "to_m": 4224.53},
        **{"speed": 20, "unit": "mph", "speed_mps": 8.9408, "reference": "notice 14"},
        "from_at": f"{row.from_at:%Y-%m-%dT%H:%M:%S.%fZ}",
        "until_at": f"{row.until_at:%Y-%m-%dT%H:%M:%S.%fZ}",
    }
    assert (second["from_m"], second["until_at"]) == (4828.03, None)
    submit(client, f"/desk/restrictions/{row.id}/end", version=1, ended_at=at(), **END)
    assert told(line.test_client()).get_json()["items"] == [second]


def test_nobody_is_named_to_tablets(line: Flask) -> None:
    note(desk_client(line))
    text = told(line.test_client()).text
    assert "signaller" not in text and "publish" not in text


def test_the_tag_holds_until_something_changes(line: Flask) -> None:
    client, tablet = desk_client(line), line.test_client()
    note(client)
    tag = told(tablet).headers["ETag"]
    assert told(tablet, **{"If-None-Match": tag}).status_code == 304
    fields = {"version": 1, "line": "larch-valley", "direction": "down", "speed": "15"}
    fields |= {"from_place": "2m 20ch", "to_place": "2m 50ch", "from_at": at(days=-2)}
    fields |= {"reference": "notice 15", "told_by": "signaller, Fern Mill"}
    submit(client, f"/desk/restrictions/{only(line).id}/change", **fields)
    again = told(tablet, **{"If-None-Match": tag})
    assert again.status_code == 200 and again.headers["ETag"] != tag
    assert [(one["rev"], one["speed"]) for one in again.get_json()["items"]] == [(2, 15)]


def test_however_many_there_are_the_questions_stay_the_same(line: Flask) -> None:
    client, tablet = desk_client(line), line.test_client()
    note(client)
    told(tablet)
    with counted(line) as one:
        told(tablet)
    for _ in range(6):
        note(client)
    with counted(line) as seven:
        items = told(tablet).get_json()["items"]
    assert len(items) == 7 == len(rows(line))
    assert len(seven) == len(one)
