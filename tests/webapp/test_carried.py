"""Unsent reports carried to the depot as a file: once, by name, nothing half."""

from __future__ import annotations

import io
import json
import re
import uuid
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

import pytest
from click.testing import CliRunner
from flask import Flask
from flask.testing import FlaskClient
from hypothesis import given
from hypothesis import strategies as st
from sqlalchemy import select

from tests.support.desk import desk_client, form_token
from tests.support.reports import CHANGE, batch, item
from webapp.commands.cli import cli
from webapp.commands.terminal import open_data
from webapp.records import carried, tablets
from webapp.records import items as items_
from webapp.records.reports.models import Report
from webapp.records.tablets import Device
from webapp.store.audit import AuditEntry
from webapp.store.db import reading, writing

NOW = datetime(2026, 11, 25, 12, 0, tzinfo=UTC)


def file_of(*items: Any, **more: Any) -> dict[str, Any]:
    """What static/core/unsent.js writes."""
    sent = batch(*items, sent_at="2026-11-25T06:45:00+00:00")
    return {"format": carried.FORMAT, "version": 1, "batch": sent, "rows": [], **more}


def hand_over(client: FlaskClient, content: Any, tablet: str = "") -> Any:
    """Put a file into the form; what is not bytes is written as JSON."""
    address = f"/desk/carried?tablet={tablet}" if tablet else "/desk/carried"
    data = content if isinstance(content, bytes) else json.dumps(content).encode()
    token = form_token(client, address)
    sent = {"csrf_token": token, "file": (io.BytesIO(data), "reports-not-sent.json")}
    return client.post(address, data=sent, content_type="multipart/form-data")


def enrolled(app: Flask) -> str:
    with app.app_context(), writing() as session:
        tablets.enrol(session, "Tablet 9", NOW)
        return str(session.scalars(select(Device.id)).one())


def rows(app: Flask) -> list[Report]:
    with app.app_context(), reading() as session:
        found = list(session.scalars(select(Report).order_by(Report.server_no)))
        session.expunge_all()
    return found


def test_a_carried_file_counts_as_if_the_tablet_had_sent_it(app: Flask) -> None:
    """Also when the signal comes back afterwards, and when the file comes twice."""
    client, name = desk_client(app, "review"), enrolled(app)
    one, two = item(1), item(2)
    answer = hand_over(client, file_of(one, two, unreadable=[str(uuid.uuid4())]), name)
    assert answer.status_code == 200
    assert "2 new, 0 that had come already" in answer.text
    assert "could not read 1 of its own" in answer.text
    again = hand_over(client, file_of(one, two), name)
    assert "0 new, 2 that had come already" in again.text
    # Its cookie is gone: it is told nothing of what is here, keeps both, and adds nothing.
    sent = app.test_client().post("/api/outbox", json=batch(one, two), headers=CHANGE)
    assert [result["result"] for result in sent.get_json()["results"]] == ["retry"] * 2
    kept = rows(app)
    assert [(str(row.device_id), row.quarantined) for row in kept] == [(name, False)] * 2


def test_hours_in_a_pocket_do_not_move_a_report(app: Flask) -> None:
    """The file was written at 06:45 and is read now; what was seen at 06:40 stays there."""
    hand_over(desk_client(app, "review"), file_of(item(1)), enrolled(app))
    row = rows(app)[0]
    assert row.observed_est_at == datetime(2026, 11, 25, 6, 40, tzinfo=UTC)
    assert row.clock_offset_s == 0
    assert row.sent_at == datetime(2026, 11, 25, 6, 45, tzinfo=UTC)


def test_without_a_named_tablet_it_is_kept_apart(app: Flask) -> None:
    answer = hand_over(desk_client(app, "review"), file_of(item(1)))
    assert "0 new" in answer.text and "1 kept apart, not counted" in answer.text
    assert "kept apart, not counted</td>" in answer.text and rows(app) == []
    assert "Reportable: slide" in desk_client(app).get("/desk/not-enrolled").text


def test_one_bad_item_spoils_no_other_and_the_audit_counts(app: Flask) -> None:
    bad = {**item(2), "observed_at": "yesterday"}
    answer = hand_over(desk_client(app, "review"), file_of(item(1), bad, 7), enrolled(app))
    assert "1 new" in answer.text
    assert "2 refused" in answer.text
    assert "observed_at: " in answer.text
    assert len(rows(app)) == 1
    with app.app_context(), reading() as session:
        counts = session.scalars(
            select(AuditEntry.new).where(AuditEntry.what == "outbox.carried")
        ).one()
    assert counts == {
        **{"created": 1, "duplicate": 0, "rejected": 2, "retry": 0},
        **{"removed": 0, "kept apart": 0},
    }


WRONG = {
    "no JSON": (b"\xff{", "no JSON file"),
    "a list": ([], "not a file of unsent reports"),
    "another format": ({**file_of(), "format": "x"}, "format: Send one of"),
    "another version": (file_of(version=2), "version: This server reads version 1"),
    "no batch": ({"format": carried.FORMAT, "version": 1}, "batch: "),
    "a bad install": (
        {**file_of(), "batch": {**batch(), "install_id": "me"}},
        "batch, install_id: ",
    ),
    "something unknown": (file_of(colour="blue"), "colour: This field is not known"),
}


@pytest.mark.parametrize("case", WRONG)
def test_a_wrong_file_is_refused_by_the_name_of_its_fault(app: Flask, case: str) -> None:
    content, words = WRONG[case]
    answer = hand_over(desk_client(app, "review"), content)
    assert answer.status_code == 422
    assert words in answer.text
    assert "Nothing was taken in." in answer.text
    assert rows(app) == []


def test_no_file_and_an_unknown_tablet(app: Flask) -> None:
    client = desk_client(app, "review")
    token = form_token(client, "/desk/carried")
    empty = client.post("/desk/carried", data={"csrf_token": token})
    assert (empty.status_code, "Choose the file." in empty.text) == (422, True)
    assert client.get(f"/desk/carried?tablet={uuid.uuid4()}").status_code == 404
    assert client.get("/desk/carried?tablet=seven").status_code == 404


@given(st.binary(max_size=200) | st.text(max_size=200).map(str.encode))
def test_no_bytes_are_more_than_a_fault(content: bytes) -> None:
    with pytest.raises(carried.Unread) as refused:
        carried.read(content)
    assert refused.value.faults


def test_the_command_reads_it_too(lone_app: Flask, tmp_path: Path) -> None:
    file, data = tmp_path / "unsent.json", tmp_path / "data"
    file.write_text(json.dumps(file_of(item(1))))
    call = ["report", "carried", str(file), "--who", "test", "--data", str(data)]
    unnamed = CliRunner().invoke(cli, call)
    assert "kept apart received_not_counted" in unnamed.output
    call += ["--tablet", enrolled(lone_app)]
    first, second = (CliRunner().invoke(cli, call) for _ in range(2))
    assert (first.exit_code, second.exit_code) == (0, 0), first.output
    assert re.search(r"report 1: created", first.output)
    assert re.search(r"report 1: duplicate", second.output)
    file.write_text("{}")
    refused = CliRunner().invoke(cli, call)
    assert refused.exit_code != 0
    assert "nothing was taken in" in refused.output


@pytest.mark.parametrize(
    "words",
    [
        ("report", "carried", "FILE", "--who", "test"),
        # Each of these would answer as for a depot in which nothing is the matter.
        ("warning", "list"),
        ("keep", "tidy", "--dry-run"),
        ("people", "list"),
        ("people", "code"),
        ("key", "renew"),
        ("shell", "off"),
    ],
)
def test_a_mistyped_data_folder_is_said_and_no_second_depot_begins(
    words: tuple[str, ...], tmp_path: Path
) -> None:
    file, wrong = tmp_path / "unsent.json", tmp_path / "dpeot"
    file.write_text(json.dumps(file_of(item(1))))
    call = [str(file) if word == "FILE" else word for word in words]
    refused = CliRunner().invoke(cli, [*call, "--data", str(wrong)])
    assert refused.exit_code != 0
    assert f"{wrong / 'step-in-hand.sqlite3'}: there is no database" in refused.output
    assert "--data" in refused.output
    assert not wrong.exists()


def test_a_depot_that_begins_says_so_once(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """`pack publish` may begin one; who mistyped the folder reads it there and then."""
    for words in (f"{tmp_path / 'new'}: no depot was there, so a new one begins.", ""):
        open_data(tmp_path / "new", begin=True)
        said = capsys.readouterr().err
        assert words in said if words else "no depot" not in said


def test_the_time_between_is_never_negative() -> None:
    """A carried delivery has no offset, however far its two times are apart."""
    delivery = items_.Delivery(
        None, uuid.uuid4(), NOW - timedelta(days=9), NOW, None, carried=True
    )
    assert delivery.corrected(NOW) == NOW
