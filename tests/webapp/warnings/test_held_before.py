"""A depot that was put back may lack a warning: tablets keep it until a person settles it."""

from __future__ import annotations

import uuid
from collections.abc import Callable
from datetime import timedelta
from typing import Any

import pytest
from flask import Flask
from flask.testing import FlaskClient
from sqlalchemy import text

from tests.support.desk import desk_client
from tests.support.problems import assert_problem
from tests.support.warned import NOW, WHO, end, publish_line, warn
from tests.webapp.warnings.test_receipts import hand_in, receipt, tablet_at
from webapp.publish.declared import declare
from webapp.records.warnings import models as warnings_models
from webapp.records.warnings import service
from webapp.store import edits
from webapp.store.db import reading, writing

Rows = Callable[[str], list[tuple[Any, ...]]]


@pytest.fixture
def line(app: Flask) -> Flask:
    publish_line(app)
    return app


def declared(app: Flask) -> None:
    with app.app_context(), writing() as session:
        declare(session, WHO, NOW, {})


def forgotten(app: Flask, warned: warnings_models.Warned) -> dict[str, Any]:
    """As a tablet holds it, and as a depot that was put back does not know it."""
    name = warned.id
    body = app.test_client().get("/api/warnings?since=0").get_json()["items"][-1]
    assert body["id"] == str(name)
    with app.app_context(), writing() as session:
        if session.get_bind().dialect.name == "postgresql":
            session.execute(text("ALTER TABLE warning_rev DISABLE TRIGGER USER"))
        else:
            session.execute(text("DROP TRIGGER IF EXISTS warning_rev_no_delete"))
        for table, column in (("warning_rev", "warning_id"), ("warning", "id")):
            session.execute(
                text(f"DELETE FROM {table} WHERE {column} = :name"),
                {"name": name if session.get_bind().dialect.name != "sqlite" else name.hex},
            )
    declared(app)
    return {key: body[key] for key in body if key not in {"feed_no", "status"}}


def whole(client: FlaskClient, **more: Any) -> dict[str, Any]:
    found = client.get("/api/warnings", query_string={"since": 0, **more}).get_json()
    return dict(found)


def test_a_number_of_the_epoch_before_must_begin_again(line: Flask) -> None:
    client = line.test_client()
    warn(line)
    seen = whole(client)
    asked = {"since": seen["feed_no"], "mark": seen["mark"], "epoch": seen["epoch"]}
    assert client.get("/api/warnings", query_string=asked).status_code == 200
    declared(line)
    assert_problem(client.get("/api/warnings", query_string=asked), 410, "restored")
    again = whole(client, held=asked["since"], mark=asked["mark"], epoch=asked["epoch"])
    assert again["epoch"] != seen["epoch"]
    assert again["restored"] and not seen["restored"]


def test_a_forgotten_warning_comes_before_a_person_and_no_tablet_is_told_by_it(
    line: Flask, rows: Rows
) -> None:
    held = forgotten(line, warn(line))
    tablet = tablet_at(line, "Quay")
    (result,) = hand_in(tablet, receipt(before=[held]))
    assert result["result"] == "created"
    assert whole(tablet)["items"] == []
    desk = desk_client(line, "publish")
    page = desk.get(f"/desk/warnings/{held['id']}").text
    assert "Tablets hold this warning from before the depot was restored." in page
    assert "Drop the draft" not in page
    assert "from before the depot was restored" in desk.get("/desk/warnings?show=drafts").text
    (result,) = hand_in(tablet_at(line, "Quay"), receipt(before=[held]))  # one for all tablets
    assert len(rows("SELECT id FROM warning")) == 1


def test_it_is_told_again_and_its_end_reaches_every_tablet(line: Flask) -> None:
    held = forgotten(line, warn(line))
    tablet = tablet_at(line, "Quay")
    hand_in(tablet, receipt(before=[held]))
    name = uuid.UUID(held["id"])
    with line.app_context(), reading() as session:
        rev = session.get_one(warnings_models.Warned, name).rev
    with line.app_context(), writing() as session:
        with pytest.raises(edits.Stale, match="Publish it again"):
            service.drop(session, name, rev, WHO, NOW)
    with line.app_context(), writing() as session:
        told = service.publish(session, name, rev, WHO, NOW)
        assert told.rev > held["rev"]
        session.expunge(told)
    (again,) = whole(tablet)["items"]
    assert {key: again[key] for key in held if key != "rev"} == {
        key: value for key, value in held.items() if key != "rev"
    }
    end(line, told, NOW - timedelta(days=3000))
    (gone,) = whole(tablet)["items"]  # however long ago: a tablet may still hold it
    assert (gone["id"], gone["status"]) == (held["id"], "ended")


def test_a_later_wording_lost_in_a_restore_is_noted_once_for_the_desk(
    line: Flask, rows: Rows
) -> None:
    """The tablets keep it; the desk amends its own to what stands."""
    warn(line)
    held = dict(whole(line.test_client())["items"][0])
    held = {key: held[key] for key in held if key not in {"feed_no", "status"}}
    held |= {"rev": held["rev"] + 1, "reason": "film over all of it"}
    before = whole(line.test_client())
    for _ in range(2):  # two tablets say so
        (result,) = hand_in(tablet_at(line, "Quay"), receipt(before=[held]))
        assert result["result"] == "created"
    after = whole(line.test_client())
    assert after["items"] == before["items"], "a tablet's word alone changes no warning"
    assert rows("SELECT count(*) FROM audit WHERE what = 'warning.newer'") == [(1,)]
    page = desk_client(line, "publish").get(f"/desk/warnings/{held['id']}").text
    assert "ablets hold a later wording" in page and "film over all of it" in page


def test_told_again_it_goes_beyond_the_wording_that_tablets_hold(line: Flask) -> None:
    """Also unchanged: a revision at or below theirs would be old news to them."""
    warned = warn(line)
    held = dict(whole(line.test_client())["items"][0])
    held = {key: held[key] for key in held if key not in {"feed_no", "status"}}
    held |= {"rev": held["rev"] + 4, "reason": "film over all of it"}
    hand_in(tablet_at(line, "Quay"), receipt(before=[held]))
    desk, path = desk_client(line, "publish"), f"/desk/warnings/{warned.id}"
    words = "hold a later wording of this warning, lost"
    assert words in desk.get(path).text
    with line.app_context(), writing() as session:
        service.amend(session, warned.id, warned.rev, {}, WHO, NOW)
    (again,) = whole(line.test_client())["items"]
    assert again["rev"] > held["rev"]
    assert again["reason"] != held["reason"]
    assert words not in desk.get(path).text
    with line.app_context(), writing() as session:
        with pytest.raises(edits.NothingChanged):  # there is nothing to replace any more
            service.amend(session, warned.id, again["rev"], {}, WHO, NOW)


def test_an_end_that_a_tablet_missed_is_told_once_more(line: Flask) -> None:
    """It was away at the end, and then the depot was put back: so it keeps the warning."""
    warned = warn(line)
    held = dict(whole(line.test_client())["items"][0])
    held = {key: held[key] for key in held if key not in {"feed_no", "status"}}
    end(line, warned, NOW - timedelta(days=3000))
    tablet = tablet_at(line, "Quay")
    before = whole(tablet)
    hand_in(tablet, receipt(before=[held]))
    after = whole(tablet)
    assert after["feed_no"] > before["feed_no"]
    assert [one["status"] for one in after["items"]] == ["ended"]


def test_a_strangers_word_brings_no_warning(line: Flask, rows: Rows) -> None:
    held = forgotten(line, warn(line))
    hand_in(line.test_client(), receipt(before=[held]))
    assert rows("SELECT id FROM warning") == []
