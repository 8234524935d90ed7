"""A depot's folder and database belong together, and a server that lost one says so."""

from __future__ import annotations

import json
import os
import sqlite3
import urllib.error
import urllib.request
import uuid
from collections.abc import Callable
from contextlib import closing
from pathlib import Path
from typing import Any

import pytest
from flask import Flask
from flask.testing import FlaskClient
from sqlalchemy import create_engine, text

from tests.support.reports import CHANGE, batch, item
from tests.support.server import Server
from webapp import create_app
from webapp.commands import prepare
from webapp.plain import config
from webapp.store import datafolder, depot
from webapp.store.db import db, folder_of, reading
from webapp.store.depot import Depot

GOLDEN = Path(__file__).parents[1] / "golden" / "server_v1"
Make = Callable[..., Flask]


def name_in(app: Flask) -> uuid.UUID:
    with app.app_context(), reading() as session:
        return session.get_one(Depot, 1).name


def folder(app: Flask) -> Any:
    with app.app_context():
        return folder_of(db.session())


def ended(app: Flask) -> None:
    with app.app_context():
        db.engine.dispose()


def reports(data: Path) -> int:
    with closing(sqlite3.connect(data / "step-in-hand.sqlite3")) as file:
        return int(file.execute("SELECT count(*) FROM report").fetchone()[0])


def post(tablet: FlaskClient, *items: Any) -> Any:
    return tablet.post("/api/outbox", json=batch(*items), headers=CHANGE)


# Written once, in both


def test_a_new_depot_is_named_once_in_folder_and_database(
    make_app: Make, database_url: str | None
) -> None:
    first = make_app(DATABASE_URL=database_url)
    named = name_in(first)
    assert folder(first).identity().name == named and folder(first).identity().joined
    again = make_app(DATABASE_URL=database_url)
    assert name_in(again) == named == folder(again).identity().name


@pytest.fixture
def released(tmp_path: Path, database_url: str | None) -> dict[str, Any]:
    """The folder and database of the release before depots had an id."""
    data = tmp_path / "data"
    data.mkdir()
    (data / "keys").mkdir()
    (data / "keys" / "signing.json").write_text("{}")
    if database_url:
        engine = create_engine(config.database_url(database_url, data))
        with engine.connect() as connection:
            connection.connection.cursor().execute((GOLDEN / "postgres.sql").read_text())
            connection.connection.commit()
        engine.dispose()
    else:
        with closing(sqlite3.connect(data / "step-in-hand.sqlite3")) as file:
            file.executescript((GOLDEN / "sqlite.sql").read_text())
    return {"DATA": data, "DATABASE_URL": database_url}


def test_a_released_depot_is_named_at_the_upgrade(
    make_app: Make, released: dict[str, Any]
) -> None:
    app = make_app(**released)
    named = name_in(app)
    assert folder(app).identity().name == named
    tablet = app.test_client()
    tablet.get("/")
    assert post(tablet, item(9)).get_json()["results"][0]["result"] == "created"
    ended(app)
    assert name_in(make_app(**released)) == named


@pytest.mark.parametrize("step", ["folder.identify", "session.commit", "the last write"])
def test_a_start_that_is_cut_between_the_two_goes_on_where_it_ended(
    make_app: Make, released: dict[str, Any], monkeypatch: pytest.MonkeyPatch, step: str
) -> None:
    class Cut(BaseException):
        pass

    real = datafolder.DataFolder.identify

    def cut(self: Any, name: uuid.UUID, *, joined: bool) -> None:
        if step == "folder.identify" or (step == "the last write" and joined):
            raise Cut
        real(self, name, joined=joined)
        if step == "session.commit":
            raise Cut

    with monkeypatch.context() as planted:
        planted.setattr(datafolder.DataFolder, "identify", cut)
        with pytest.raises(Cut):
            make_app(**released)
    app = make_app(**released)
    assert folder(app).identity().name == name_in(app) and folder(app).identity().joined


# Refused at the start


def emptied_postgres(url: str) -> None:
    engine = create_engine(config.database_url(url, Path("/")))
    with engine.begin() as connection:
        connection.execute(text("DROP SCHEMA public CASCADE"))
        connection.execute(text("CREATE SCHEMA public"))
    engine.dispose()


@pytest.mark.parametrize("how", ["gone", "empty"])
@pytest.mark.parametrize("upgraded", [True, False], ids=["named", "of the release before"])
def test_a_depot_whose_database_is_gone_does_not_begin_as_an_empty_one(
    make_app: Make, released: dict[str, Any], how: str, upgraded: bool
) -> None:
    """18 of 18 acknowledged reports were gone after the restart."""
    if upgraded:
        ended(make_app(**released))
    file = released["DATA"] / "step-in-hand.sqlite3"
    if released["DATABASE_URL"]:
        emptied_postgres(released["DATABASE_URL"])
    else:
        for one in released["DATA"].glob("step-in-hand.sqlite3*"):
            one.unlink()
        if how == "empty":
            file.touch()
    with pytest.raises(
        config.SettingsError, match=r"gone or empty.*step-in-hand restore FILE"
    ):
        make_app(**released)
    assert how == "empty" or not file.exists()  # nor does refusing make one


def test_another_depots_database_is_refused(make_app: Make, tmp_path: Path) -> None:
    ended(make_app(DATA=tmp_path / "one"))
    ended(make_app(DATA=tmp_path / "two"))
    one, two = (tmp_path / n / "step-in-hand.sqlite3" for n in ("one", "two"))
    two.write_bytes(one.read_bytes())
    with pytest.raises(config.SettingsError, match="belong to two depots"):
        make_app(DATA=tmp_path / "two")


def test_two_folders_that_begin_on_one_database_are_refused_from_the_start(
    make_app: Make, tmp_path: Path, postgres_url: str
) -> None:
    make_app(DATA=tmp_path / "one", DATABASE_URL=postgres_url)
    with pytest.raises(config.SettingsError, match="another data folder"):
        make_app(DATA=tmp_path / "two", DATABASE_URL=postgres_url)
    again = make_app(DATA=tmp_path / "one", DATABASE_URL=postgres_url)  # a second process
    assert folder(again).expected == name_in(again)


def test_an_old_copy_put_back_by_hand_is_refused_with_what_to_type(
    make_app: Make, released: dict[str, Any]
) -> None:
    if released["DATABASE_URL"]:
        return
    file = released["DATA"] / "step-in-hand.sqlite3"
    old = file.read_bytes()
    ended(make_app(**released))
    for one in released["DATA"].glob("step-in-hand.sqlite3*"):
        one.unlink()
    file.write_bytes(old)
    with pytest.raises(config.SettingsError, match="step-in-hand declare-restored"):
        make_app(**released)


@pytest.mark.parametrize("how", ["cut", "flipped", "overwritten"])
def test_a_damaged_database_is_found_at_the_start_and_told_as_damaged(
    make_app: Make, tmp_path: Path, how: str
) -> None:
    app = make_app()
    tablet = app.test_client()
    tablet.get("/")
    post(tablet, *(item(n) for n in range(1, 40)))
    ended(app)
    file = tmp_path / "data" / "step-in-hand.sqlite3"
    whole = bytearray(file.read_bytes())
    if how == "cut":
        file.write_bytes(whole[: len(whole) // 2])
    elif how == "flipped":
        for at in range(8192, len(whole), 4096):
            whole[at : at + 8] = b"\xff" * 8
        file.write_bytes(whole)
    else:
        file.write_bytes(b"no database" * 1000)
    again = create_app({"DATA": tmp_path / "data", "DEMO": True})
    with pytest.raises(config.SettingsError, match=r"damaged.*keep a copy.*restore FILE"):
        prepare.check_whole(again)


def test_a_large_damaged_database_is_found_while_it_runs(
    make_app: Make, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    app = make_app()
    tablet = app.test_client()
    tablet.get("/")
    monkeypatch.setattr(depot, "QUICK_BYTES", 0)
    monkeypatch.setattr(depot, "_quick_check", lambda _path: "page 7 is never used")
    prepare.check_whole(app)
    for thread in depot.threading.enumerate():
        if thread.name == "quick-check":
            thread.join()
    answer = post(tablet, item(1))
    assert answer.status_code == 503 and answer.get_json()["code"] == "depot_in_trouble"


# While it runs


def gone(file: Path) -> None:
    for one in file.parent.glob(f"{file.name}*"):
        one.unlink()


def replaced(file: Path) -> None:
    copy = file.with_name("copy")
    copy.write_bytes(file.read_bytes())
    copy.replace(file)


def cut(file: Path) -> None:
    os.truncate(file, file.stat().st_size // 2)


def wal_gone(file: Path) -> None:
    file.with_name(f"{file.name}-wal").unlink()


def folder_moved(file: Path) -> None:
    file.parent.rename(file.parent.with_name("elsewhere"))


@pytest.mark.parametrize(
    "spoil",
    [gone, replaced, cut, wal_gone, folder_moved],
    ids=lambda one: one.__name__,
)
def test_a_running_server_acknowledges_nothing_into_a_database_that_is_gone(
    make_app: Make, tmp_path: Path, spoil: Callable[[Path], None]
) -> None:
    app = make_app()
    tablet = app.test_client()
    tablet.get("/")
    assert post(tablet, item(1)).status_code == 200
    spoil(tmp_path / "data" / "step-in-hand.sqlite3")
    answer = post(tablet, item(2))
    assert answer.status_code == 503 and answer.headers["X-Step-In-Hand"] == "1"
    assert answer.get_json()["code"] == "depot_in_trouble"
    assert "Nothing was kept; send again later" in answer.get_json()["detail"]
    assert tablet.get("/app/nothing.js").status_code == 404  # the app itself is served on
    page = tablet.get("/desk/reports", headers={"Accept": "text/html"})
    assert page.status_code == 503


def test_a_database_that_goes_while_a_batch_is_written_is_noticed_before_the_answer(
    make_app: Make, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    app = make_app()
    tablet = app.test_client()
    tablet.get("/")
    from webapp.tablet import outbox

    real = outbox.outbox.hand_in

    def taken(*args: Any) -> Any:
        found = real(*args)
        gone(tmp_path / "data" / "step-in-hand.sqlite3")
        return found

    monkeypatch.setattr(outbox.outbox, "hand_in", taken)
    assert post(tablet, item(1)).status_code == 503


def test_a_postgresql_database_that_is_another_now_is_noticed(
    make_app: Make, postgres_url: str
) -> None:
    app = make_app(DATABASE_URL=postgres_url)
    tablet = app.test_client()
    tablet.get("/")
    assert post(tablet, item(1)).status_code == 200
    with app.app_context(), db.engine.begin() as connection:
        connection.execute(text("UPDATE depot SET name = :name"), {"name": uuid.uuid4()})
    assert post(tablet, item(2)).status_code == 503
    emptied_postgres(postgres_url)
    assert post(tablet, item(3)).status_code == 503


def test_the_real_server_notices_at_once_and_does_not_start_again(tmp_path: Path) -> None:
    def send(server: Server, n: int) -> int:
        heads = {**CHANGE, "Content-Type": "application/json"}
        body = json.dumps(batch(item(n))).encode()
        call = urllib.request.Request(server.url + "/api/outbox", body, heads)
        try:
            with urllib.request.urlopen(call, timeout=20) as answer:
                return int(answer.status)
        except urllib.error.HTTPError as error:
            return error.code

    with Server(tmp_path / "data") as server:
        assert send(server, 1) == 200
        gone(server.database)
        assert send(server, 2) == 503
        assert "gone under the running server" in server.log()
        server.stop()
        with pytest.raises(AssertionError, match="gone or empty"):
            server.start()
    assert not server.database.exists()
