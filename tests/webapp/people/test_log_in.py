"""Log-in, log-out, first account: R52 (cookie), R56-R58, R61, R63 as far as people go."""

from __future__ import annotations

from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from contextlib import suppress
from datetime import UTC, datetime, timedelta
from typing import Any

import flask_migrate
import pytest
from flask import Flask
from sqlalchemy import text, update
from sqlalchemy.exc import DBAPIError

from tests.support.desk import PASSWORD, account, desk_client, entered, form_token, submit
from webapp.commands.people import invite
from webapp.records.people import service, sessions, setup_code
from webapp.records.people.models import DeskSession
from webapp.store import audit, throttle
from webapp.store.db import writing

Rows = Callable[[str], list[tuple[Any, ...]]]
HTML = {"Accept": "text/html"}


def log_in(client: Any, login: str, password: str, **more: Any) -> Any:
    return submit(client, "/desk/log-in", login=login, password=password, **more)


def test_an_empty_desk_leads_to_the_set_up_and_no_password_is_built_in(app: Flask) -> None:
    client = app.test_client()
    assert client.get("/desk").headers["Location"].startswith("/desk/log-in")
    assert client.get("/desk/log-in").headers["Location"] == "/desk/set-up"
    page = client.get("/desk/set-up")
    assert page.status_code == 200
    assert "set-up code" in page.text.lower()


def set_up(client: Any, code: str, login: str = "first.one", password: str = PASSWORD) -> Any:
    return submit(
        client, "/desk/set-up", code=code, login=login, password=password, again=password
    )


def test_the_code_from_the_terminal_makes_the_first_account_once(
    app: Flask, rows: Rows
) -> None:
    line = invite(app, "http://127.0.0.1:1")
    assert line is not None
    code = line.rsplit(" ", 1)[1]
    assert (app.config["DATA"] / setup_code.FILE).stat().st_mode & 0o077 == 0
    client = app.test_client()
    assert set_up(client, code.lower()).status_code == 302
    assert rows("SELECT login, role, manages_people FROM person") in (
        [("first.one", "publish", 1)],
        [("first.one", "publish", True)],
    )
    assert not (app.config["DATA"] / setup_code.FILE).exists()
    assert invite(app, "x") is None
    assert client.get("/desk/set-up").headers["Location"] == "/desk/log-in"
    assert log_in(client, "First.One", PASSWORD).headers["Location"] == "/desk"
    assert client.get("/desk/people").status_code == 200


COMMON = ("password1234", "letmeinletmein", "qwertyuiop12", "123456789012", "Welcome2026!")


@pytest.mark.parametrize(
    ("code", "login", "password", "said"),
    [
        ("WRONG", "someone", PASSWORD, "not the code"),
        (None, "x", PASSWORD, "2 to 60"),
        (None, "some one", PASSWORD, "2 to 60"),
        (None, "someone", "short", "at least 12"),
        (None, "someone", "someone-someone", "not made of the login"),
        (None, "someone", "aaaaaaaaaaaaaaa", "one letter repeated"),
        *[(None, "someone", common, "common or easily guessed") for common in COMMON],
    ],
)
def test_a_faulty_set_up_is_refused_in_words_and_makes_nobody(
    lone_app: Flask, code: str | None, login: str, password: str, said: str
) -> None:
    true_code = setup_code.made(lone_app.config["DATA"])
    answer = set_up(lone_app.test_client(), code or true_code, login, password)
    assert answer.status_code == 422
    assert said in answer.text
    assert invite(lone_app, "x") is not None


def test_guessing_the_code_is_slowed_after_five_tries(lone_app: Flask) -> None:
    code = setup_code.made(lone_app.config["DATA"])
    client = lone_app.test_client()
    answers = [set_up(client, "GUESS").status_code for _ in range(5)]
    assert answers == [422] * 5
    sixth = set_up(client, code)
    assert sixth.status_code == 429
    assert 0 < int(sixth.headers["Retry-After"]) <= 60


def test_a_page_of_the_desk_sends_a_stranger_to_the_log_in_and_back(app: Flask) -> None:
    account(app, "vale")
    client = app.test_client()
    asked = client.get("/desk/reports?before=2026-11-25T06%3A40%3A00Z~x")
    assert asked.status_code == 302
    there = asked.headers["Location"]
    token = form_token(client, there)
    fields = {"csrf_token": token, "login": "vale", "password": PASSWORD}
    fields["next"] = "/desk/reports"
    assert client.post(there, data=fields).headers["Location"] == "/desk/reports"


@pytest.mark.parametrize(
    "away", ["https://elsewhere.example", "//elsewhere.example", "/\\x", "/desk/\\x"]
)
def test_the_log_in_never_leads_off_the_desk(lone_app: Flask, away: str) -> None:
    account(lone_app, "vale")
    client = lone_app.test_client()
    answer = log_in(client, "vale", PASSWORD, next=away)
    assert answer.headers["Location"] == "/desk"


def test_r57_shutting_an_account_ends_its_log_ins_at_the_next_request(app: Flask) -> None:
    boss = desk_client(app, "look", manages=True)
    person = account(app, "vale", "publish")
    client = entered(app, person)
    assert client.get("/desk/reports").status_code == 200
    path = f"/desk/people/{person}"
    submit(boss, f"{path}/disable", at=path, version=1)
    assert client.get("/desk/reports").status_code == 302
    refused = log_in(app.test_client(), "vale", PASSWORD)
    assert refused.status_code == 401


def test_r57_idle_and_absolute_limits(lone_app: Flask) -> None:
    person = account(lone_app, "vale")
    for column, past in (("seen_at", sessions.IDLE), ("ends_at", timedelta(0))):
        client = entered(lone_app, person)
        assert client.get("/desk/reports").status_code == 200
        with lone_app.app_context(), writing() as session:
            session.execute(update(DeskSession).values({column: datetime.now(UTC) - past}))
        assert client.get("/desk/reports").status_code == 302


def test_logging_out_ends_the_row_so_a_kept_cookie_is_worth_nothing(
    app: Flask, rows: Rows
) -> None:
    client = desk_client(app)
    cookie = client.get_cookie("sih-desk")
    assert cookie is not None
    submit(client, "/desk/log-out", at="/desk/reports")
    thief = app.test_client()
    thief.set_cookie("sih-desk", cookie.value)
    assert thief.get("/desk/reports").status_code == 302
    assert rows("SELECT count(*) FROM desk_session") == [(0,)]


def test_a_new_log_in_gets_a_new_token_and_the_row_holds_only_its_hash(
    app: Flask, rows: Rows
) -> None:
    account(app, "vale")
    client = app.test_client()
    log_in(client, "vale", PASSWORD)
    with client.session_transaction() as kept:
        first = kept["_user_id"]
    log_in(client, "vale", PASSWORD)
    with client.session_transaction() as kept:
        assert kept["_user_id"] != first
    assert first not in str(rows("SELECT * FROM desk_session"))
    assert PASSWORD not in str(rows("SELECT * FROM person"))


def test_r61_five_wrong_passwords_wait_but_a_colleague_elsewhere_gets_in(app: Flask) -> None:
    account(app, "vale")
    account(app, "other")
    bad, good = app.test_client(), app.test_client()
    bad.environ_base["REMOTE_ADDR"] = "10.0.0.9"
    good.environ_base["REMOTE_ADDR"] = "10.0.0.7"
    assert [log_in(bad, "vale", "wrong password").status_code for _ in range(5)] == [401] * 5
    held = log_in(bad, "vale", PASSWORD)
    assert held.status_code == 429
    assert 0 < int(held.headers["Retry-After"]) <= throttle.ACCOUNT.length.total_seconds()
    # The same account from another address, and another account from the same one.
    assert log_in(good, "vale", PASSWORD).status_code == 302
    assert log_in(bad, "other", PASSWORD).status_code == 302


def test_a_right_password_forgets_the_failures(lone_app: Flask) -> None:
    account(lone_app, "vale")
    client = lone_app.test_client()
    for _ in range(2):
        for _ in range(4):
            assert log_in(client, "vale", "wrong password").status_code == 401
        assert log_in(client, "vale", PASSWORD).status_code == 302


def test_a_guesser_who_changes_accounts_is_slowed_by_his_address(lone_app: Flask) -> None:
    now = datetime(2026, 11, 25, 6, 0, tzinfo=UTC)
    with lone_app.app_context(), writing() as session:
        for n in range(throttle.ADDRESS.most):
            service.check_tries(session, f"name{n}", "10.0.0.9", now)
            service.let_in(session, service.Tried(f"name{n}", "10.0.0.9", None, None), now)
        with pytest.raises(service.Throttled):
            service.check_tries(session, "vale", "10.0.0.9", now)
        service.check_tries(session, "vale", "10.0.0.8", now)
        service.check_tries(session, "vale", "10.0.0.9", now + throttle.ADDRESS.length)


def test_wrong_login_and_wrong_password_get_the_same_words(lone_app: Flask) -> None:
    account(lone_app, "vale")
    answers = [
        log_in(lone_app.test_client(), login, "wrong password")
        for login in ("vale", "nobody-here")
    ]
    assert {answer.status_code for answer in answers} == {401}
    assert all("do not belong together" in answer.text for answer in answers)


def test_log_ins_and_refusals_are_in_the_audit_without_what_was_typed(
    app: Flask, rows: Rows
) -> None:
    account(app, "vale")
    client = app.test_client()
    log_in(client, "my password typed here", "wrong password")
    log_in(client, "vale", PASSWORD)
    told = rows("SELECT who, what FROM audit ORDER BY id")
    assert ("nobody", "log-in.refused") in told
    assert ("vale", "log-in") in told
    assert "typed here" not in str(rows("SELECT * FROM audit"))


def test_addresses_are_kept_beside_the_audit_and_forgotten_in_time(
    app: Flask, rows: Rows
) -> None:
    account(app, "vale")
    client = app.test_client()
    where = {"environ_overrides": {"REMOTE_ADDR": "192.0.2.7"}}
    token = form_token(client, "/desk/log-in")
    for password in ("wrong password", PASSWORD):
        fields = {"login": "vale", "password": password, "csrf_token": token}
        client.post("/desk/log-in", data=fields, **where)
    assert "192.0.2.7" not in str(rows("SELECT * FROM audit"))
    kept = rows("SELECT login, address, let_in FROM log_in_address ORDER BY id")
    assert [(who, at, bool(let_in)) for who, at, let_in in kept] == [
        ("vale", "192.0.2.7", False),
        ("vale", "192.0.2.7", True),
    ]
    later = datetime.now(UTC) + service.ADDRESSES_KEPT + timedelta(minutes=1)
    with app.app_context(), writing() as session:
        assert service.addresses(session, later) == []
        service.forget_addresses(session, later)
    assert rows("SELECT * FROM log_in_address") == []


def test_addresses_of_before_leave_the_audit_which_stays_sealed(
    app: Flask, rows: Rows
) -> None:
    now = datetime.now(UTC)
    with app.app_context():
        flask_migrate.downgrade(revision="0014")
        with writing() as session:
            for who, days in (("vale", 3), ("former", 300)):
                where = {"address": f"192.0.2.{days % 200}"}
                at = now - timedelta(days=days)
                audit.record(session, at, who, "log-in", who, {}, where)
        flask_migrate.upgrade()
        assert "192.0.2" not in str(rows("SELECT * FROM audit"))
        assert rows("SELECT login, address FROM log_in_address") == [("vale", "192.0.2.3")]
        with pytest.raises(DBAPIError, match="append-only"), writing() as session:
            session.execute(text("UPDATE audit SET who = 'nobody'"))


def test_r58_a_form_without_its_token_or_from_another_site_changes_nothing(
    app: Flask, rows: Rows
) -> None:
    client = desk_client(app, "look", manages=True)
    for fields in ({}, {"csrf_token": "made-up"}):
        answer = client.post("/desk/people", data={"login": "evil", **fields}, headers=HTML)
        assert answer.status_code == 400
        assert "load the page again" in answer.text
    assert rows("SELECT login FROM person") == [("look-and-people",)]


def test_r52_the_cookie_is_plain_on_loopback_and_host_bound_over_https(
    lone_app: Flask,
) -> None:
    account(lone_app, "vale")
    for base, name, secure in (
        ("http://127.0.0.1", "sih-desk=", False),
        ("https://127.0.0.1", "__Host-sih-desk=", True),
    ):
        client = lone_app.test_client()
        answer = client.get("/desk/log-in", base_url=base)
        cookie = next(
            value for value in answer.headers.getlist("Set-Cookie") if value.startswith(name)
        )
        assert "HttpOnly" in cookie and "SameSite=Strict" in cookie and "Path=/" in cookie
        assert ("Secure" in cookie) == secure
        assert "Domain" not in cookie


def test_a_password_given_by_somebody_else_must_be_changed_first(app: Flask) -> None:
    person = account(app, "vale", own=False)
    client = entered(app, person)
    assert client.get("/desk/reports").headers["Location"] == "/desk/password"
    new = "another sentence to keep"
    wrong = submit(client, "/desk/password", old="not it at all", password=new, again=new)
    assert wrong.status_code == 422
    changed = submit(client, "/desk/password", old=PASSWORD, password=new, again=new)
    assert changed.headers["Location"] == "/desk/log-in"
    assert log_in(client, "vale", new).status_code == 302
    assert client.get("/desk/reports").status_code == 200


def test_a_password_must_be_another_one(app: Flask) -> None:
    client = desk_client(app)
    same = submit(client, "/desk/password", old=PASSWORD, password=PASSWORD, again=PASSWORD)
    assert same.status_code == 422
    assert "Choose another" in same.text


def test_guessing_the_old_password_is_slowed(app: Flask) -> None:
    client, new = desk_client(app), "another sentence to keep"

    def change(old: str) -> int:
        return submit(client, "/desk/password", old=old, password=new, again=new).status_code

    assert [change("not it at all") for _ in range(5)] == [422] * 5
    assert change(PASSWORD) == 429, "a stolen log-in does not lead to the password"


def test_tries_at_the_same_moment_are_counted_before_they_are_compared(app: Flask) -> None:
    account(app, "vale")
    now, compared = datetime.now(UTC), []

    def guess(_n: int) -> None:
        with suppress(service.Throttled), app.app_context():
            with writing() as session:
                service.check_tries(session, "vale", "10.0.0.9", now)
            compared.append(1)

    with ThreadPoolExecutor(8) as pool:
        list(pool.map(guess, range(40)))
    assert len(compared) == throttle.ACCOUNT.most


def test_addresses_of_one_network_are_one_guesser(lone_app: Flask) -> None:
    now = datetime.now(UTC)
    with lone_app.app_context(), writing() as session:
        for n in range(throttle.ACCOUNT.most):
            service.check_tries(session, "vale", f"2001:db8::{n + 1}", now)
        with pytest.raises(service.Throttled):
            service.check_tries(session, "vale", "2001:db8::ffff", now)
        service.check_tries(session, "vale", "2001:db8:0:1::1", now)


def test_right_log_ins_do_not_use_up_an_address(lone_app: Flask) -> None:
    account(lone_app, "vale")
    for _ in range(throttle.ADDRESS.most + 5):
        assert log_in(lone_app.test_client(), "vale", PASSWORD).status_code == 302
