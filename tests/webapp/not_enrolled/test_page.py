"""The one place where reports of tablets not enrolled stand, and the end of a warning."""

from __future__ import annotations

import re
import uuid
from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from typing import Any

import pytest
from click.testing import CliRunner
from flask import Flask
from flask.testing import FlaskClient
from sqlalchemy import select

from tests.support.desk import desk_client, submit
from tests.support.reports import CHANGE, batch, item
from tests.support.seals import seal
from tests.support.warned import publish_line, warn
from webapp.commands.cli import cli
from webapp.records import tablets
from webapp.records.not_enrolled_rows import HeldItem
from webapp.store.db import reading, writing

Rows = Callable[[str], list[tuple[Any, ...]]]
LIST = "/desk/not-enrolled"
NOW = datetime.now(UTC)
THERE = {"at_m": 51_000.0, "target": None, "observed_at": NOW.isoformat()}


def hand_in(app: Flask, *items: Any) -> None:
    answer = app.test_client().post("/api/outbox", json=batch(*items), headers=CHANGE)
    assert answer.status_code == 200


def numbers(app: Flask) -> list[int]:
    with app.app_context(), reading() as session:
        return list(session.scalars(select(HeldItem.no).order_by(HeldItem.no)))


def words(client: FlaskClient, path: str) -> str:
    answer = client.get(path)
    assert answer.status_code == 200, answer.text
    return re.sub(r"\s+", " ", re.sub(r"<[^>]+>", " ", answer.text))


@pytest.fixture
def named(app: Flask) -> str:
    """The id of a tablet that is enrolled."""
    with app.app_context(), writing() as session:
        tablets.enrol(session, "Cab tablet 9", NOW - timedelta(days=9), "Harrowmere")
        session.flush()
        ((name, _),) = tablets.names_in_use(session)
        return str(name)


def test_they_stand_in_one_place_the_gravest_first(app: Flask) -> None:
    hand_in(app, item(1, found="good", happened=[], place="Mill"), seal(2))
    hand_in(app, item(3, happened=["overrun"], place="Bridge"), item(4, place="Wood"))
    page = words(desk_client(app, "look"), LIST)
    order = [page.index(word) for word in ("Bridge", "Wood", "Mill", "Seal")]
    assert order == sorted(order) and "Waiting (4)" in page
    assert "Reportable: overrun" in page and "Kept until" in page
    assert "Remove for good" not in page, "who only looks has no buttons"
    assert "all of this list (4)" in words(desk_client(app, "review"), LIST)
    for path in ("/desk/handover", "/desk/control", "/desk/reports"):
        shown = words(desk_client(app, "look"), path)
        assert "4 from tablets not enrolled, 1 says overrun" in shown, path
        assert not re.search("Bridge|Wood|Mill", shown), path


def test_some_or_all_are_set_aside_or_removed_with_a_reason_in_one_audit_row(
    app: Flask, rows: Rows
) -> None:
    hand_in(app, *(item(n) for n in range(1, 6)))
    desk, known = desk_client(app, "review"), numbers(app)
    assert submit(desk, f"{LIST}/set-aside", at=LIST, no=known[0]).status_code == 422
    nothing = submit(desk, f"{LIST}/set-aside", at=LIST, why="no")
    assert nothing.status_code == 422 and "Tick at least one" in nothing.text
    bad = submit(desk, f"{LIST}/remove", at=LIST, no="9" * 30, why="no")
    assert bad.status_code == 422
    some = submit(desk, f"{LIST}/set-aside", at=LIST, no=known[0], why="told by voice")
    assert some.status_code == 302
    assert "Waiting (4)" in words(desk, LIST)
    assert "told by voice" in words(desk, f"{LIST}?show=aside")
    rest = submit(desk, f"{LIST}/remove", at=LIST, which="all", why="a prank")
    assert rest.status_code == 302 and numbers(app) == known[:1]
    last = submit(
        desk, f"{LIST}/remove?show=aside", at=f"{LIST}?show=aside", which="all", why="old"
    )
    assert last.status_code == 302 and numbers(app) == []
    actions = "SELECT what FROM audit WHERE substr(what, 1, 12) = 'not_enrolled' ORDER BY id"
    assert [what for (what,) in rows(actions)] == [
        *("not_enrolled.set_aside", "not_enrolled.removed", "not_enrolled.removed")
    ]
    assert "Removed, from tablets not enrolled" in words(desk, "/desk/handover")


def test_a_person_takes_one_in_for_a_named_tablet(app: Flask, named: str, rows: Rows) -> None:
    hand_in(app, item(7, place="Bridge"), seal(8))
    desk = desk_client(app, "review")
    first, second = numbers(app)
    if rows(f"SELECT kind FROM not_enrolled_item WHERE no = {first}") == [("seal",)]:
        first, second = second, first
    page = f"{LIST}/{first}"
    assert "Cab tablet 9 (Harrowmere)" in words(desk, page)
    for wrong in ("", "x", str(uuid.uuid4())):
        assert submit(desk, f"{page}/take-in", at=page, tablet=wrong).status_code == 422
    taken = submit(desk, f"{page}/take-in", at=page, tablet=named)
    assert taken.status_code == 302 and "Bridge" in words(desk, taken.headers["Location"])
    ((seq, device, apart),) = rows("SELECT seq, device_id, quarantined FROM report")
    assert (seq, str(uuid.UUID(str(device))), bool(apart)) == (7, named, False)
    sealed = submit(desk, f"{LIST}/{second}/take-in", at=f"{LIST}/{second}", tablet=named)
    assert desk.get(sealed.headers["Location"]).status_code == 200
    assert numbers(app) == [] and desk.get(page).status_code == 404
    assert (
        submit(desk, f"{page}/take-in", at="/desk/password", tablet=named).status_code == 404
    )
    assert desk.get(f"{LIST}/{9 * 10**30}").status_code == 404


def test_ending_a_warning_names_them_in_one_line_and_asks(app: Flask) -> None:
    publish_line(app)
    begun = (NOW - timedelta(minutes=60)).isoformat(timespec="seconds")
    warned = warn(app, NOW, from_at=begun)
    path = f"/desk/warnings/{warned.id}"
    hand_in(app, item(1, **THERE), item(2, happened=["overrun"], **THERE))
    hand_in(app, item(3, **{**THERE, "at_m": 90_000.0}))  # elsewhere
    desk = desk_client(app)
    line = "2 from tablets not enrolled, 1 says overrun"
    assert line in words(desk, path) and line in words(desk, f"{path}/end")
    told = {
        **{"told_by": "signaller", "reference": "e 3", "version": str(warned.rev)},
        **{"told_at": f"{NOW:%Y-%m-%dT%H:%M}", "override": "closed for the night"},
    }
    asked = submit(desk, f"{path}/end", **told)
    assert asked.status_code == 422 and "Nobody has looked at them" in asked.text
    call = {name: told[name] for name in ("told_by", "override")} | {
        "told_at": NOW.isoformat()
    }
    tag = desk.get(f"/api{path}").headers["ETag"]
    heads = {**CHANGE, "If-Match": tag}
    refused = desk.post(f"/api{path}/end", json=call, headers=heads)
    assert refused.status_code == 409 and refused.get_json()["code"] == "apart"
    assert line in refused.get_json()["errors"]["set_aside"][0]
    ended = submit(desk, f"{path}/end", **told, aside="same driver told by voice")
    assert ended.status_code == 302
    assert f"set aside when it ended: {line}" in words(desk, path)
    assert "Waiting (1)" in words(desk, LIST)


def test_what_is_taken_in_restarts_the_rule(app: Flask, named: str) -> None:
    publish_line(app)
    begun = (NOW - timedelta(minutes=60)).isoformat(timespec="seconds")
    path = f"/desk/warnings/{warn(app, NOW, from_at=begun).id}"
    hand_in(app, item(1, **THERE))
    desk = desk_client(app)
    assert words(desk, path).count("Missing:") == 1
    (no,) = numbers(app)
    submit(desk, f"{LIST}/{no}/take-in", at=f"{LIST}/{no}", tablet=named)
    assert words(desk, path).count("Missing:") == 2


def test_the_command_line_lists_takes_in_sets_aside_and_is_asked(
    make_app: Callable[..., Flask], tmp_path: Any
) -> None:
    app = make_app()
    publish_line(app)
    with app.app_context(), writing() as session:
        tablets.enrol(session, "Cab tablet 9", NOW)
        session.flush()
        ((named, _),) = tablets.names_in_use(session)
    warned = warn(app, NOW, from_at=(NOW - timedelta(hours=1)).isoformat(timespec="seconds"))
    hand_in(app, item(1, **THERE), item(2, **THERE), item(3, **THERE))
    at = ["--data", str(tmp_path / "data")]

    def run(*typed: str) -> tuple[int, str]:
        done = CliRunner().invoke(cli, [*typed, *at])
        return done.exit_code, done.output

    code, text = run("not-enrolled", "list")
    assert code == 0 and "3 from tablets not enrolled, 3 say reportable" in text
    first, second, _ = numbers(app)
    who = ("--who", "a test")
    code, text = run("not-enrolled", "take-in", str(first), "--tablet", str(named), *who)
    assert code == 0 and "taken in as number 1" in text
    code, text = run("not-enrolled", "set-aside", str(second), "--reason", "a prank", *who)
    assert code == 0 and "1 set aside" in text
    end = ("warning", "end", str(warned.id), "--rev", str(warned.rev), "--told-by", "s", *who)
    code, text = run(*end, "--override", "closed")
    assert code != 0 and "1 from tablets not enrolled, 1 says reportable" in text
    assert "--set-aside" in text
    code, text = run(*end, "--override", "closed", "--set-aside", "told by voice")
    assert code == 0, text
