"""Making, changing and shutting accounts."""

from __future__ import annotations

import re
import uuid
from collections.abc import Callable
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import pytest
from click.testing import CliRunner
from flask import Flask

from tests.support.desk import account, desk_client, entered, submit
from webapp.commands.cli import cli
from webapp.records.people import service
from webapp.records.people.roles import LEVELS, may
from webapp.store.db import writing

Rows = Callable[[str], list[tuple[Any, ...]]]


def test_a_manager_of_people_makes_an_account_that_works(app: Flask) -> None:
    boss = desk_client(app, "look", manages=True)
    answer = submit(boss, "/desk/people", login="Vale", role="review")
    assert answer.status_code == 200
    found = re.search(r'class="secret">([^<]+)<', answer.text)
    assert found
    client = app.test_client()
    entry = submit(client, "/desk/log-in", login="vale", password=found[1])
    assert entry.status_code == 302
    assert client.get("/desk/reports").headers["Location"] == "/desk/password"
    assert "vale" in boss.get("/desk/people").text
    again = submit(boss, "/desk/people", login="vale", role="look")
    assert again.status_code == 422
    assert "an account vale already" in again.text


def test_rights_are_changed_and_the_audit_keeps_old_and_new(app: Flask, rows: Rows) -> None:
    boss = desk_client(app, "look", manages=True)
    person = account(app, "vale", "look")
    path = f"/desk/people/{person}"
    assert submit(boss, path, role="publish", manages_people="y", version=1).status_code == 302
    late = submit(boss, path, role="look", version=1)
    assert late.status_code == 422
    assert "changed this account since you opened it" in late.text
    assert entered(app, person).get("/desk/people").status_code == 200
    old, new = rows("SELECT old, new FROM audit WHERE what = 'person.changed'")[0]
    assert "look" in str(old) and "publish" in str(new)


def test_the_last_manager_of_people_cannot_be_shut_or_lose_the_right(app: Flask) -> None:
    boss = account(app, "boss", "look", manages=True)
    client = entered(app, boss)
    path = f"/desk/people/{boss}"
    for answer in (
        submit(client, path, role="look", version=1),
        submit(client, f"{path}/disable", at=path, version=1),
    ):
        assert answer.status_code == 422
        assert "One account must manage people" in answer.text
    account(app, "second", "look", manages=True)
    assert submit(client, f"{path}/disable", at=path, version=1).status_code == 302
    assert client.get("/desk/people").status_code == 302


def test_a_shut_account_opens_again_with_its_rights(app: Flask) -> None:
    boss = desk_client(app, "look", manages=True)
    person = account(app, "vale", "review")
    path = f"/desk/people/{person}"
    submit(boss, f"{path}/disable", at=path, version=1)
    assert submit(boss, f"{path}/enable", at=path, version=2).status_code == 302
    assert entered(app, person).get("/desk/reports").status_code == 200


def test_a_new_password_shuts_out_whoever_held_the_old_one(app: Flask) -> None:
    boss = desk_client(app, "look", manages=True)
    person = account(app, "vale")
    client = entered(app, person)
    path = f"/desk/people/{person}"
    answer = submit(boss, f"{path}/password", at=path)
    assert 'class="secret"' in answer.text
    assert answer.headers["Cache-Control"] == "no-store"
    assert client.get("/desk/reports").status_code == 302


def test_an_account_nobody_knows(app: Flask) -> None:
    boss = desk_client(app, "look", manages=True)
    assert boss.get(f"/desk/people/{uuid.uuid4()}").status_code == 404
    with app.app_context(), writing() as session, pytest.raises(service.Refused):
        service.disable(session, uuid.uuid4(), 1, "x", datetime.now(UTC))


def test_levels_include_each_other_and_an_unknown_role_only_looks() -> None:
    for have in (*LEVELS, "from a newer version"):
        for need in LEVELS:
            level = LEVELS.index(have) if have in LEVELS else 0
            assert may(have, True, need) == (level >= LEVELS.index(need))
        assert may(have, False, "people") is False
        assert may(have, True, "people") is True


def test_the_server_gives_a_locked_out_manager_a_password(tmp_path: Path) -> None:
    import webapp
    from webapp.commands import prepare

    run = CliRunner()
    data = ["--data", str(tmp_path)]
    app = webapp.create_app({"DATA": tmp_path, "DEMO": True})
    prepare.migrate(app)
    assert "No account yet" in run.invoke(cli, ["people", "list", *data]).output
    code = run.invoke(cli, ["people", "code", *data]).output.strip()
    assert re.fullmatch(r"[A-Z2-9]{4}-[A-Z2-9]{4}-[A-Z2-9]{4}", code)
    assert run.invoke(cli, ["people", "code", *data]).output.strip() == code
    account(app, "vale", "look", manages=True)
    assert run.invoke(cli, ["people", "list", *data]).output == "vale: look, manages people\n"
    given = run.invoke(cli, ["people", "password", "vale", *data]).output
    password = re.search(r"with (\S+) and", given)
    assert password
    entry = submit(app.test_client(), "/desk/log-in", login="vale", password=password[1])
    assert entry.status_code == 302
    assert run.invoke(cli, ["people", "password", "nobody", *data]).exit_code == 2
    assert run.invoke(cli, ["people", "code", *data]).exit_code == 2
