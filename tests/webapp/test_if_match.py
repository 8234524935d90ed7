"""R45: desk edits by programs. `If-Match` is needed (428), must be what is kept (412).

Against RFC 9110, 13.1.1 (strong comparison) and RFC 6585, 3 (428 Precondition Required).
"""

from __future__ import annotations

import threading
import uuid
from datetime import UTC, datetime, timedelta
from typing import Any

import pytest
from flask import Flask
from flask.testing import FlaskClient

from tests.support.desk import account, desk_client, entered
from tests.support.problems import assert_problem
from tests.support.reports import CHANGE
from tests.support.small_pack import small_pack
from tests.support.warned import publish_line, typed, warn
from webapp.lines import in_use
from webapp.packs.register import fit_listed
from webapp.publish import service as publisher
from webapp.records.places import service as places
from webapp.records.warnings import service
from webapp.store.db import reading, writing

WARNINGS, PLACES = "/api/desk/warnings", "/api/desk/places"


@pytest.fixture
def line(app: Flask) -> Flask:
    publish_line(app)
    return app


def send(
    client: FlaskClient, verb: str, path: str, body: dict[str, Any], tag: str | None = None
) -> Any:
    headers = {**CHANGE, **({} if tag is None else {"If-Match": tag})}
    return client.open(path, method=verb, json=body, headers=headers)


def tag_of(client: FlaskClient, path: str) -> str:
    answer = client.get(path)
    assert answer.status_code == 200
    tag = str(answer.headers["ETag"])
    assert tag.startswith('"'), "strong"
    assert client.get(path, headers={"If-None-Match": tag}).status_code == 304
    return tag


def revisions(app: Flask) -> list[tuple[int, str]]:
    with app.app_context(), reading() as session:
        return [(one.rev, one.reason) for one in service.listed(session, ended=True)]


def test_r45_a_warning_by_programs_from_draft_to_end(line: Flask) -> None:
    client = desk_client(line)
    opened = (datetime.now(UTC) - timedelta(hours=1)).isoformat(timespec="seconds")
    made = send(client, "POST", WARNINGS, typed(from_at=opened))
    assert made.status_code == 201 and made.get_json()["status"] == "draft"
    path = f"{WARNINGS}/{made.get_json()['id']}"
    assert made.headers["ETag"] == tag_of(client, path)
    told = send(client, "POST", f"{path}/publish", {}, made.headers["ETag"])
    assert (told.status_code, told.get_json()["status"]) == (200, "published")
    assert client.get(WARNINGS).get_json()["items"] == [told.get_json()]
    ends = {"from_place": "31m 30ch", "to_place": "32m 20ch", "adhesion": 0.03}
    amended = send(client, "PATCH", path, ends, told.headers["ETag"]).get_json()
    assert {name: amended[name] for name in ("from_place", "to_place", "state", "reason")} == {
        "from_place": "31 mi 30 ch",
        "to_place": "32 mi 20 ch",
        "state": "very-low",
        "reason": typed()["reason"],
    }
    end = {"told_by": "signaller", "told_at": datetime.now(UTC).isoformat(timespec="seconds")}
    asked = send(client, "POST", f"{path}/end", end, tag_of(client, path))
    problem = assert_problem(asked, 409, "steps_missing")
    assert "test stop" in problem["errors"]["override"][0]
    end["override"] = "line closed"
    over = send(client, "POST", f"{path}/end", end, tag_of(client, path))
    assert over.get_json()["status"] == "ended" and over.get_json()["ended_at"]
    again = send(client, "POST", f"{path}/end", end, over.headers["ETag"])
    assert_problem(again, 409, "past_this")
    assert "line closed" in client.get(f"/desk/warnings/{made.get_json()['id']}").text


def test_r45_without_if_match_nothing_is_changed(line: Flask) -> None:
    client, name = desk_client(line), warn(line).id
    path, before = f"{WARNINGS}/{name}", revisions(line)
    now = datetime.now(UTC).isoformat(timespec="seconds")
    bodies = {"": {"reason": "mine"}, "/publish": {}, "/end": {"told_by": "x", "told_at": now}}
    for part, body in bodies.items():
        for tag in (None, "", "*"):
            verb = "POST" if part else "PATCH"
            answer = send(client, verb, path + part, body, tag)
            assert_problem(answer, 428, "if_match_missing")
    weak = f"W/{tag_of(client, path)}"
    assert_problem(send(client, "PATCH", path, {"reason": "mine"}, weak), 412)
    assert revisions(line) == before


def test_r45_who_comes_second_is_given_what_is_kept_and_may_then_decide(line: Flask) -> None:
    first = entered(line, account(line, "early", "publish"))
    second = entered(line, account(line, "late", "publish"))
    path = f"{WARNINGS}/{warn(line).id}"
    tag = tag_of(first, path)
    assert send(first, "PATCH", path, {"reason": "theirs"}, tag).status_code == 200
    refused = send(second, "PATCH", path, {"reason": "mine"}, tag)
    problem = assert_problem(refused, 412, "changed_meanwhile")
    assert problem["current"] == first.get(path).get_json()
    assert problem["current"]["reason"] == "theirs"
    assert refused.headers["ETag"] == tag_of(second, path)
    kept = send(second, "PATCH", path, {"reason": "mine"}, refused.headers["ETag"])
    assert kept.get_json()["reason"] == "mine"
    assert revisions(line) == [(4, "mine")]


def test_r45_of_many_at_once_one_wins_and_all_others_are_told(line: Flask) -> None:
    path = f"{WARNINGS}/{warn(line).id}"
    clients = [desk_client(line) for _ in range(6)]
    tag, answers = tag_of(clients[0], path), []

    def change(n: int) -> None:
        answers.append(send(clients[n], "PATCH", path, {"reason": f"no. {n}"}, tag))

    threads = [threading.Thread(target=change, args=(n,)) for n in range(len(clients))]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert sorted(one.status_code for one in answers) == [200, *[412] * 5]
    won = next(one for one in answers if one.status_code == 200).get_json()["reason"]
    assert revisions(line) == [(3, won)]


def test_asked_for_again_a_change_is_as_it_was_asked_for(line: Flask) -> None:
    """The answer was lost: the same again with the newest tag keeps no second revision."""
    client = desk_client(line)
    path = f"{WARNINGS}/{warn(line).id}"
    for _ in range(2):
        answer = send(client, "PATCH", path, {"reason": "mine"}, tag_of(client, path))
        assert answer.status_code == 200
    assert revisions(line) == [(3, "mine")]


@pytest.mark.parametrize(
    ("change", "status", "field"),
    [
        ({"reason": ""}, 422, "reason"),
        ({"colour": "x"}, 422, "colour"),
        ({"adhesion": 0}, 422, "adhesion"),
        ({"state": "swept"}, 409, "state"),
        ({"from_place": "31m 20ch"}, 409, "to_place"),
        ({"from_place": "99m", "to_place": "98m"}, 409, "from_place"),
        ({"told_at": "2099-01-01T00:00:00Z"}, 409, "told_at"),
    ],
)
def test_what_cannot_be_taken_is_named_by_its_field(
    lone_app: Flask, change: dict[str, Any], status: int, field: str
) -> None:
    publish_line(lone_app)
    client, path = desk_client(lone_app), f"{WARNINGS}/{warn(lone_app).id}"
    problem = assert_problem(send(client, "PATCH", path, change, tag_of(client, path)), status)
    assert field in problem["errors"].get("json", problem["errors"])
    if field != "to_place":  # the other end stands in the draft
        assert send(client, "POST", WARNINGS, {**typed(), **change}).status_code == status
    assert revisions(lone_app) == [(2, typed()["reason"])]


def test_a_reviewer_drafts_and_changes_nothing_that_is_published(lone_app: Flask) -> None:
    publish_line(lone_app)
    client, path = desk_client(lone_app, "review"), f"{WARNINGS}/{warn(lone_app).id}"
    assert send(client, "POST", WARNINGS, typed()).status_code == 201
    refused = send(client, "PATCH", path, {"reason": "mine"}, tag_of(client, path))
    assert_problem(refused, 403, "not_allowed")


def test_r58_a_form_or_a_call_without_the_mark_changes_nothing(line: Flask) -> None:
    client, path = desk_client(line), f"{WARNINGS}/{warn(line).id}"
    tag = {"If-Match": tag_of(client, path)}
    unmarked = client.patch(path, json={"reason": "x"}, headers=tag)
    assert_problem(unmarked, 403, "header_missing")
    form = client.patch(path, data={"reason": "x"}, headers={**tag, **CHANGE})
    assert_problem(form, 415, "not_json")
    assert revisions(line) == [(2, typed()["reason"])]


def test_r45_a_listed_place_is_changed_to_what_was_read(line: Flask) -> None:
    with line.app_context(), writing() as session:
        publisher.publish(session, small_pack(), datetime.now(UTC))
        base = in_use.bases(session)["larch-valley"]
        said = {
            "name": "Larch cutting",
            "direction": "down",
            "from": "2m 00ch",
            "to": "2m 20ch",
        }
        said |= {"state": "damp", "season_from": "10-01", "season_to": "12-13"}
        said |= {"reason": "trees", "source": "a test"}
        name = places.enlist(session, base, said, "test", datetime.now(UTC), fit=fit_listed)
    client, path = desk_client(line), f"{PLACES}/{name}"
    assert_problem(client.get(f"{PLACES}?after=nowhere"), 410, "bad_cursor")
    assert client.get(PLACES).get_json()["items"] == [client.get(path).get_json()]
    tag = tag_of(client, path)
    assert_problem(send(client, "PATCH", path, {"reason": "mine"}), 428)
    changed = send(client, "PATCH", path, {"reason": "felled, leaves blow in"}, tag)
    assert changed.get_json() == {
        **client.get(path).get_json(),
        **{"rev": 2, "from_place": "2 mi 00 ch", "reason": "felled, leaves blow in"},
    }
    late = assert_problem(send(client, "PATCH", path, {"reason": "mine"}, tag), 412)
    assert late["current"]["reason"] == "felled, leaves blow in"
    wrong = send(client, "PATCH", path, {"state": "swept"}, tag_of(client, path))
    assert "state" in assert_problem(wrong, 409, "does_not_fit")["errors"]
    unknown = client.get(f"{PLACES}/{uuid.UUID(int=1)}")
    assert_problem(unknown, 404, "no_such_place")
