"""After an older backup was put back every tablet brings again what the depot lost."""

from __future__ import annotations

import uuid
from collections.abc import Callable, Iterator
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import pytest
from flask import Flask
from flask.testing import FlaskClient
from sqlalchemy import create_engine, select, text

from tests.support.fake_pack import pack
from tests.support.reports import CHANGE, batch, item
from webapp.commands import restore
from webapp.plain import config
from webapp.publish import service as publisher
from webapp.publish.declared import declare
from webapp.records import privacy
from webapp.records.reports.models import Report
from webapp.records.seals import Seal
from webapp.store import backup, depot
from webapp.store.datafolder import DataFolder
from webapp.store.db import db, folder_of, reading, writing

NOW = datetime(2026, 11, 25, 7, 0, tzinfo=UTC)
TABLETS = 50


class Place:
    """A depot that can be backed up, and put back to what it was then, on either store."""

    def __init__(
        self, make_app: Callable[..., Flask], tmp_path: Path, url: str | None
    ) -> None:
        self._make, self._url, self.data = make_app, url, tmp_path / "data"
        self.address = config.database_url(url, self.data)
        self.app = self._make(DATABASE_URL=url)

    def close(self) -> None:
        with self.app.app_context():
            db.engine.dispose()

    def backed_up(self, name: str = "one.zip") -> Path:
        file = self.data.parent / name
        backup.make(self.data, self.address, file, with_key=False, version="0.2.0")
        return file

    def put_back(self, file: Path) -> None:
        """By `restore`, as it is typed at the server."""
        self.close()
        if self._url:
            engine = create_engine(self.address)
            with engine.begin() as connection:
                connection.execute(text("DROP SCHEMA public CASCADE"))
                connection.execute(text("CREATE SCHEMA public"))
            engine.dispose()
        restore.restore(file, self.data, self.address, replace=True)
        self.app = self._make(DATABASE_URL=self._url)

    def rows(self) -> dict[str, int]:
        with self.app.app_context(), reading() as session:
            query = select(Report.id, Report.server_no)
            return {str(row.id): row.server_no for row in session.execute(query)}


@pytest.fixture
def place(
    make_app: Callable[..., Flask],
    tmp_path: Path,
    database_url: str | None,
    monkeypatch: pytest.MonkeyPatch,
) -> Iterator[Place]:
    if database_url:
        monkeypatch.setenv("STEP_IN_HAND_DATABASE_URL", database_url)
    monkeypatch.setenv("STEP_IN_HAND_SECRET_KEY", "0123456789abcdef0123456789abcdef")
    one = Place(make_app, tmp_path, database_url)
    yield one
    one.close()


class Tablet:
    """What the app does, in few words: the outbox itself is tried in tests/machine."""

    def __init__(self, place: Place) -> None:
        self.place, self.cookie = place, ""
        self.install = str(uuid.uuid4())
        client = self.client()
        client.get("/")
        cookie = client.get_cookie("sih-tablet")
        assert cookie is not None
        self.cookie = cookie.value
        self.waiting: list[dict[str, Any]] = []
        self.receipts: dict[str, tuple[dict[str, Any], int | None]] = {}
        self.epoch = ""
        self.seq = 0

    def client(self) -> FlaskClient:
        client = self.place.app.test_client()
        if self.cookie:
            client.set_cookie("sih-tablet", self.cookie)
        return client

    def report(self, **more: Any) -> str:
        self.seq += 1
        made = item(self.seq, **more)
        self.waiting.append(made)
        return str(made["id"])

    def contact(self) -> list[dict[str, Any]]:
        """Ask which history the depot is in, then send what waits."""
        client = self.client()
        said = client.get("/api/tablet").get_json()["depot"]
        offered = []
        mine = max((no or 0 for _, no in self.receipts.values()), default=0)
        if (self.epoch and self.epoch != said["epoch"]) or mine > said["highest"]:
            offered = [
                {"id": name, "server_no": no} for name, (_, no) in self.receipts.items()
            ]
            self.waiting += [one for one, _ in self.receipts.values()]
            self.receipts = {}
        self.epoch = said["epoch"]
        if not self.waiting:
            return []
        body = batch(*self.waiting, install_id=self.install)
        body |= {"offered": offered} if offered else {}
        answer = client.post("/api/outbox", json=body, headers=CHANGE)
        assert answer.status_code == 200, answer.text
        results: list[dict[str, Any]] = answer.get_json()["results"]
        items = {one["id"]: one for one in self.waiting}
        for one in results:
            if one["result"] in {"created", "duplicate"}:
                self.receipts[one["id"]] = (items[one["id"]], one["server_no"])
        assert {one["result"] for one in results} <= {"created", "duplicate", "removed"}
        self.waiting = []
        return results


def removed(place: Place, name: str) -> None:
    """On request: reviewed, then taken out by hand."""
    with place.app.app_context(), writing() as session:
        row = session.scalars(select(Report).where(Report.id == uuid.UUID(name))).one()
        row.waiting = False
        session.flush()
        found = privacy.held(session, row.server_no)
        assert found is not None
        privacy.anonymise(session, found, "a test", NOW)


def names_in(place: Place) -> set[str]:
    with place.app.app_context(), reading() as session:
        bodies = [row["body"] for row in session.scalars(select(Report.item))]
    return {body["driver_name"] for body in bodies if body["driver_name"]}


def test_fifty_tablets_bring_all_again_after_a_restore_of_an_older_backup(
    place: Place,
) -> None:
    """0 lost, 0 doubled, each under its old number; what was removed on request stays so."""
    tablets = [Tablet(place) for _ in range(TABLETS)]
    before: list[str] = []
    for n, tablet in enumerate(tablets):
        before += [tablet.report(driver_name=f"driver {n}"), tablet.report()]
        tablet.contact()
    file = place.backed_up()
    after = [
        tablet.report(driver_name="a later driver") for tablet in tablets for _ in range(2)
    ]
    for tablet in tablets:
        tablet.contact()
    gone = [before[0], after[0]]
    for name in gone:
        removed(place, name)
    numbers = place.rows()
    assert len(numbers) == 4 * TABLETS

    place.put_back(file)
    assert set(place.rows()) == set(before)
    assert "driver 0" not in names_in(place)  # anonymised again in the copy that was put back
    fresh = Tablet(place)
    fresh.report()
    (one,) = fresh.contact()
    assert one["server_no"] > max(numbers.values())  # no number is given a second time

    answers = {one["id"]: one["result"] for tablet in tablets for one in tablet.contact()}
    assert answers[gone[0]] == answers[gone[1]] == "removed"
    now = place.rows()
    assert {name: now[name] for name in numbers if name not in gone} == {
        name: no for name, no in numbers.items() if name not in gone
    }
    assert set(now) == set(numbers) - {gone[1]} | {one["id"]}
    assert names_in(place) == {*(f"driver {n}" for n in range(1, TABLETS)), "a later driver"}
    assert gone[0] not in tablets[0].receipts and gone[1] not in tablets[0].receipts
    for tablet in tablets:
        assert tablet.contact() == []  # once, not for ever


def test_a_snapshot_put_back_by_hand_is_declared(place: Place) -> None:
    """No `restore` runs: a person says so; numbers that may have been given are left."""
    tablet = Tablet(place)
    tablet.report()
    (first,) = tablet.contact()
    with place.app.app_context(), writing() as session:
        session.execute(text("DELETE FROM report_words"))
        session.execute(text("DELETE FROM report"))
        declare(session, "a test", NOW, {"reason": "snapshot of last night"})
    other = Tablet(place)
    other.report()
    (new,) = other.contact()
    assert new["server_no"] > depot.SKIPPED
    assert [one["server_no"] for one in tablet.contact()] == [first["server_no"]]


def test_what_nobody_declared_shows_by_the_highest_number(place: Place) -> None:
    tablet = Tablet(place)
    name = tablet.report()
    tablet.contact()
    with place.app.app_context(), writing() as session:
        session.execute(text("DELETE FROM report_words"))
        session.execute(text("DELETE FROM report"))
    assert [one["result"] for one in tablet.contact()] == ["created"]
    assert set(place.rows()) == {name}


def test_an_app_of_before_that_offers_nothing_gets_a_new_number(place: Place) -> None:
    tablet = Tablet(place)
    tablet.report()
    (first,) = tablet.contact()
    with place.app.app_context(), writing() as session:
        session.execute(text("DELETE FROM report_words"))
        session.execute(text("DELETE FROM report"))
    again, _ = tablet.receipts[first["id"]]
    body = batch(again, install_id=tablet.install)
    answer = tablet.client().post("/api/outbox", json=body, headers=CHANGE)
    (one,) = answer.get_json()["results"]
    assert one["result"] == "created" and one["server_no"] > first["server_no"]


@pytest.mark.parametrize("number", [10**9, 1])
def test_a_number_that_was_never_given_or_is_taken_is_not_believed(
    place: Place, number: int
) -> None:
    one, other = Tablet(place), Tablet(place)
    one.report()
    one.contact()
    made = item(1)
    body = batch(made, install_id=other.install)
    body["offered"] = [{"id": made["id"], "server_no": number}]
    answer = other.client().post("/api/outbox", json=body, headers=CHANGE)
    (result,) = answer.get_json()["results"]
    assert result["result"] == "created" and result["server_no"] == 2


def test_seals_come_again_under_their_number(place: Place) -> None:
    from tests.webapp.seals.test_seals import seal

    tablet = Tablet(place)
    file = place.backed_up()
    made = seal(1)
    tablet.waiting.append(made)
    (first,) = tablet.contact()
    place.put_back(file)
    (again,) = tablet.contact()
    assert (again["result"], again["server_no"]) == ("created", first["server_no"])
    with place.app.app_context(), reading() as session:
        assert [str(one) for one in session.scalars(select(Seal.id))] == [made["id"]]


def test_two_server_processes_give_no_number_twice(place: Place) -> None:
    second = place._make(DATABASE_URL=place._url)
    first = place.app
    got = []
    for n in range(1, 7):
        place.app = (first, second)[n % 2]
        tablet = Tablet(place)
        tablet.report()
        got += [one["server_no"] for one in tablet.contact()]
    place.app = first
    assert len(set(got)) == 6


def test_a_folder_that_cannot_be_written_acknowledges_nothing(
    place: Place, monkeypatch: pytest.MonkeyPatch
) -> None:
    tablet = Tablet(place)
    tablet.report()

    def full(*_: object, **__: object) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr("webapp.store.datafolder.tempfile.mkstemp", full)
    answer = tablet.client().post("/api/outbox", json=batch(*tablet.waiting), headers=CHANGE)
    assert answer.status_code == 503
    assert answer.get_json()["code"] == "depot_in_trouble"
    assert place.rows() == {}


def test_the_numbers_of_a_restored_folder_never_fall(tmp_path: Path) -> None:
    old, new = DataFolder(tmp_path / "old", None), DataFolder(tmp_path / "new", None)
    for one in (old, new):
        one.data.mkdir()
    assert [old.number("report", 0, 3), old.number("report", 0)] == [1, 2]
    assert old.number("report", 7) == 8
    gone = uuid.uuid4()
    old.remove([gone])
    new.raise_to({"report": 3, "seal": 4})
    new.take_from(old.data)
    assert new.given("report") == 8 and new.given("seal") == 4
    assert new.removed() == {gone}
    assert new.number("report", 0) == 9


def test_the_serial_of_the_index_rises_though_one_backup_is_put_back_twice(
    place: Place,
) -> None:
    """A tablet refuses a serial that is no higher, and one it holds under another text."""
    with place.app.app_context(), writing() as session:
        publisher.publish(session, pack(), NOW)
    file, seen = place.backed_up(), []
    for n in range(3):
        place.put_back(file)
        with place.app.app_context(), writing() as session:
            seen.append(publisher.current(session).serial)
            seen.append(publisher.publish(session, pack(words=f"other {n}"), NOW).serial)
    assert seen == sorted(set(seen))


def test_a_depot_put_back_to_before_its_first_pack_goes_on_above_what_tablets_hold(
    place: Place,
) -> None:
    file = place.backed_up()
    with place.app.app_context(), writing() as session:
        held = publisher.publish(session, pack(), NOW).serial
    place.put_back(file)
    with place.app.app_context(), writing() as session:
        assert publisher.publish(session, pack(), NOW).serial > held


def test_each_restore_begins_an_epoch_of_its_own(place: Place) -> None:
    seen = set()
    file = place.backed_up()
    for _ in range(3):
        with place.app.app_context(), reading() as session:
            epoch = depot.epoch(session)
            assert epoch is not None
            assert folder_of(session).expected == folder_of(session).identity().name  # type: ignore[union-attr]
        seen.add(epoch.name)
        place.put_back(file)
    assert len(seen) == 3
    if place.address.startswith("postgresql"):
        return
    # Some of them fell in one second: each folder that was there before is still there.
    assert len(list(place.data.parent.glob("data-before-*"))) == 3
