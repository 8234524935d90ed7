"""The desk's builder as it is in service: a process of its own, on both stores."""

from __future__ import annotations

import json
import os
import signal
import subprocess
import time
from collections.abc import Callable
from datetime import UTC, datetime
from typing import Any

import pytest
from flask import Flask
from flask.testing import FlaskClient

from tests.support.desk import account, entered, submit
from tests.support.short_route import short_route
from webapp.lines import in_use as in_use_
from webapp.packs.files import Pack
from webapp.packs.register import fit_listed
from webapp.packs.service import build_pack
from webapp.publish import builder, proposals, service
from webapp.publish.models import PackProposal
from webapp.records.places import service as places
from webapp.store.db import reading, writing

ROUTE = "kettle-bay"
PAGE = "/desk/packs/proposals"
DEADLINE_S = 120.0


@pytest.fixture(scope="module")
def first(tmp_path_factory: pytest.TempPathFactory) -> Pack:
    return build_pack(short_route(tmp_path_factory.mktemp("short") / ROUTE))


@pytest.fixture
def line(app: Flask, first: Pack) -> Flask:
    """A depot in service with that line, and a place listed since its pack was built."""
    now = datetime.now(UTC)
    with app.app_context(), writing() as session:
        proposals.store(session, first)
        service.publish(session, first, now)
        typed = {"name": "Fern cutting", "direction": "down", "state": "leaf"}
        typed |= {"season_from": "", "season_to": ""}
        typed |= {"from": "10m 00ch", "to": "10m 60ch", "reason": "trees", "source": "a test"}
        places.enlist(
            session, in_use_.base(session, first.sha256), typed, "a test", now, fit=fit_listed
        )
    app.extensions["start_builder"] = builder.start
    app.config["DEMO"] = False
    return app


def person(app: Flask, login: str) -> FlaskClient:
    return entered(app, account(app, login, "publish"))


def row(app: Flask, number: int) -> PackProposal:
    with app.app_context(), reading() as session:
        found = proposals.any_of(session, number)
        session.expunge(found)
    return found


def until(app: Flask, number: int, right: Callable[[PackProposal], bool]) -> PackProposal:
    deadline = time.monotonic() + DEADLINE_S
    while not right(found := row(app, number)):
        assert time.monotonic() < deadline, f"{found.state}: {found.problem}"
        time.sleep(0.05)
    return found


def press(client: FlaskClient, number: int, what: str, **fields: str) -> Any:
    return submit(client, f"{PAGE}/{number}/{what}", at=f"{PAGE}/{number}", **fields)


def asked(line: Flask, client: FlaskClient) -> tuple[int, subprocess.Popen[bytes]]:
    """Ask for a build at the desk; return its number and the builder that was started."""
    answer = submit(client, f"/desk/packs/{ROUTE}/build", reason="a place was listed")
    assert answer.status_code == 302, answer.text
    return int(answer.headers["Location"].rsplit("/", 1)[1]), line.extensions["builder"]


def in_use(app: Flask) -> str | None:
    with app.app_context(), reading() as session:
        return proposals.current_pack(session, ROUTE)


def test_asked_at_the_desk_it_is_built_approved_by_another_and_in_the_index(
    line: Flask, first: Pack
) -> None:
    fenn, vale = person(line, "fenn"), person(line, "vale")
    number, process = asked(line, fenn)
    made = until(line, number, lambda one: one.state not in proposals.AT_WORK)
    assert made.state == "proposed", made.problem
    assert made.pack and made.pack != first.sha256 == made.former == in_use(line)
    assert process.wait(30) == 0
    page = fenn.get(f"{PAGE}/{number}").text
    assert "Brinewick" in page and "Fern cutting" in page
    assert press(vale, number, "approve").status_code == 302
    index = line.test_client().get("/api/index").get_json()
    assert [one["pack"] for one in index["routes"]] == [made.pack]
    with line.app_context(), reading() as session:
        base = in_use_.base(session, made.pack)
        assert [one.name for one in base.listed] == ["Fern cutting"]
        kept = in_use_.content(session, str(proposals.source_of(session, made.pack)))
    assert [one["name"] for one in kept["register"]] == ["Fern cutting"]


def test_stopped_midway_then_killed_it_leaves_nothing_and_is_built_in_the_end(
    line: Flask, first: Pack, rows: Callable[[str], list[tuple[Any, ...]]]
) -> None:
    client = person(line, "fenn")
    files = rows("SELECT count(*) FROM pack_file")
    number, process = asked(line, client)
    until(line, number, lambda one: one.state == "building")
    press(client, number, "stop")
    until(line, number, lambda one: one.state == "stopped")
    assert process.wait(DEADLINE_S) == 0
    press(client, number, "resume")
    process = line.extensions["builder"]
    until(line, number, lambda one: one.state == "building")
    os.killpg(process.pid, signal.SIGKILL)
    process.wait(DEADLINE_S)
    assert row(line, number).state == "building"
    assert rows("SELECT count(*) FROM pack_file") == files, "half a pack"
    builder.start_if_waiting(line)  # as the next start of a server does
    made = until(line, number, lambda one: one.state not in proposals.AT_WORK)
    assert made.state == "proposed" and made.pack, made.problem
    assert line.extensions["builder"].wait(30) == 0
    assert in_use(line) == first.sha256


def test_one_direction_without_a_stop_is_no_fault(first: Pack) -> None:
    """A line may be worked one way, or have all its stops on one of its tracks."""
    base = json.loads(first.file("base").content)
    assert {target["direction"] for target in base["targets"]} == {"down"}
