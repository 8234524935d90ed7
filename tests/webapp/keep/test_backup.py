"""R72b: one command backs a running depot up, one puts it back; whole or not at all."""

from __future__ import annotations

import contextlib
import io
import json
import resource
import shutil
import sqlite3
import subprocess
import sys
import threading
import urllib.request
import uuid
import zipfile
from collections.abc import Callable
from contextlib import closing
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import pytest
from flask import Flask
from sqlalchemy import create_engine, text
from sqlalchemy.engine import URL, make_url

from tests.support.desk import desk_client
from tests.support.reports import CHANGE, batch, item
from tests.support.server import Server
from tests.support.whole_desk import fill
from webapp.commands import cli, restore
from webapp.plain import config
from webapp.store import archive, backup, copies, whole
from webapp.store.db import db

GOLDEN = Path(__file__).parents[2] / "golden" / "server_v1"
SECRET = "0123456789abcdef0123456789abcdef"
NAMES = ("person", "report", "refusal", "warning", "warning_rev", "pack_file", "device")


@dataclass
class Done:
    returncode: int
    stdout: str
    stderr: str


def run(*words: str | Path) -> Done:
    """One command as it is typed, in this process."""
    said, wrong = io.StringIO(), io.StringIO()
    with (
        pytest.MonkeyPatch.context() as typed,
        contextlib.redirect_stdout(said),
        contextlib.redirect_stderr(wrong),
    ):
        typed.setattr(sys, "argv", ["step-in-hand", *map(str, words)])
        try:
            cli.main()
            code = 0
        except SystemExit as end:
            code = int(end.code or 0)
    return Done(code, said.getvalue(), wrong.getvalue())


def run_apart(*words: str | Path, **more: Any) -> subprocess.CompletedProcess[str]:
    """One command in a process of its own."""
    command = [sys.executable, "-m", "webapp.commands.cli", *map(str, words)]
    return subprocess.run(
        command, capture_output=True, text=True, timeout=60, check=False, **more
    )


@pytest.fixture(autouse=True)
def no_environment(monkeypatch: pytest.MonkeyPatch) -> None:
    for name in config.FROM_ENVIRONMENT:
        monkeypatch.delenv(config.PREFIX + name, raising=False)


@pytest.fixture
def depot(make_app: Callable[..., Flask], tmp_path: Path) -> Path:
    """A data folder with one of everything, nobody at work on it."""
    app = make_app(DEMO=False, SECRET_KEY=SECRET)
    fill(app)
    desk_client(app, "publish")  # somebody is logged in
    with app.app_context():
        db.engine.dispose()
    return tmp_path / "data"


@pytest.fixture
def saved(depot: Path, tmp_path: Path) -> Path:
    made = run("backup", tmp_path / "depot.zip", "--data", depot)
    assert made.returncode == 0, made.stderr
    return tmp_path / "depot.zip"


def content(data: Path, *tables: str) -> dict[str, list[Any]]:
    with closing(sqlite3.connect(data / "step-in-hand.sqlite3")) as file:
        return {
            name: sorted(map(repr, file.execute(f"SELECT * FROM {name}"))) for name in tables
        }


def left(folder: Path) -> set[str]:
    return {path.name for path in folder.iterdir()}


def test_r72b_what_is_restored_is_what_was_backed_up(
    depot: Path, saved: Path, tmp_path: Path
) -> None:
    done = run("restore", saved, "--data", tmp_path / "again")
    assert done.returncode == 0, done.stderr
    assert "as it was " in done.stdout and "The signing key is missing" in done.stdout
    assert content(tmp_path / "again", *NAMES) == content(depot, *NAMES)
    with closing(sqlite3.connect(tmp_path / "again" / "step-in-hand.sqlite3")) as file:
        assert file.execute("PRAGMA integrity_check").fetchall() == [("ok",)]
        assert file.execute("PRAGMA foreign_key_check").fetchall() == []
        assert file.execute("SELECT count(*) FROM desk_session").fetchone() == (0,)
        told = file.execute("SELECT who, what FROM audit ORDER BY id DESC LIMIT 1").fetchone()
    assert told == ("at the server", "depot.restored")
    assert saved.stat().st_mode & 0o077 == 0
    assert left(tmp_path) == {"data", "static", "depot.zip", "again"}


def test_the_signing_key_is_in_it_only_when_asked_for(
    depot: Path, saved: Path, tmp_path: Path
) -> None:
    key = (depot / archive.KEY).read_text()
    assert archive.KEY not in zipfile.ZipFile(saved).namelist()
    assert not any(
        SECRET.encode() in zipfile.ZipFile(saved).read(n)
        for n in zipfile.ZipFile(saved).namelist()
    )
    with_key = run("backup", tmp_path / "key.zip", "--with-key", "--data", depot)
    assert "keep a copy" not in with_key.stdout
    done = run("restore", tmp_path / "key.zip", "--data", tmp_path / "again")
    assert "key is missing" not in done.stdout
    assert (tmp_path / "again" / archive.KEY).read_text() == key
    assert (tmp_path / "again" / archive.KEY).stat().st_mode & 0o077 == 0


def test_without_its_key_a_restored_depot_does_not_start_and_says_why(
    saved: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """It must not make a new key by itself: every tablet would refuse its packs."""
    run("restore", saved, "--data", tmp_path / "again")
    monkeypatch.setenv("STEP_IN_HAND_SECRET_KEY", SECRET)
    started = run("serve", "--port", "0", "--data", tmp_path / "again")
    assert started.returncode == 2
    assert "signing.json: missing" in started.stderr
    assert not (tmp_path / "again" / archive.KEY).exists()


def index_of(server: Server) -> dict[str, Any]:
    with urllib.request.urlopen(server.url + "/api/index", timeout=5) as answer:
        return dict(json.load(answer))


def post(server: Server, tablet: str, *items: dict[str, Any]) -> None:
    body = json.dumps(batch(*items)).encode()
    heads = {**CHANGE, "Content-Type": "application/json", "Cookie": tablet}
    request = urllib.request.Request(server.url + "/api/outbox", body, heads)
    with urllib.request.urlopen(request, timeout=20) as answer:
        results = json.load(answer)["results"]
    assert {one["result"] for one in results} == {"created"}


def test_r72b_backed_up_while_tablets_send(depot: Path, tmp_path: Path) -> None:
    """R72b: what was acknowledged before is in it, what came later whole or not at all."""
    sent: list[str] = []
    stop = threading.Event()

    def send(server: Server, install: int) -> None:
        tablet = server.tablet()
        while not stop.is_set():
            pair = [item(n, id=str(uuid.uuid4())) for n in (1, 2)]
            post(server, tablet, *pair)
            sent.extend(str(one["id"]) for one in pair)

    with Server(depot) as server:
        senders = [threading.Thread(target=send, args=(server, n)) for n in range(3)]
        for one in senders:
            one.start()
        try:
            for n in range(2):
                before = list(sent)
                file = tmp_path / f"{n}.zip"
                made = run("backup", file, "--data", depot)
                assert made.returncode == 0, made.stderr
                assert run("restore", file, "--data", tmp_path / f"r{n}").returncode == 0
                (rows,) = content(tmp_path / f"r{n}", "report").values()
                found = "".join(rows)
                assert all(uuid.UUID(name).hex in found for name in before)
                assert (len(rows) - 2) % 2 == 0  # a batch is in it whole, or not
        finally:
            stop.set()
            for one in senders:
                one.join()
        assert len(sent) > 20


def test_r72b_a_restored_depot_serves_and_tablets_take_its_index_as_newer(
    depot: Path, saved: Path, tmp_path: Path
) -> None:
    """R49: it was backed up at a serial that tablets have passed since."""
    with Server(depot) as server:
        then = index_of(server)
        refused = run("restore", saved, "--replace", "--data", depot)
        assert refused.returncode == 2 and "a server runs on it" in refused.stderr
        assert server.running and index_of(server)["serial"] == then["serial"]
        post(server, server.tablet(), item(9))
    done = run("restore", saved, "--replace", "--data", depot)
    assert done.returncode == 0, done.stderr
    (kept,) = tmp_path.glob("data-before-*")
    assert len(content(kept, "report")["report"]) == 3
    assert len(content(depot, "report")["report"]) == 2
    with Server(depot) as server:
        now = index_of(server)
    assert now["serial"] == then["serial"] + 1000
    assert now["routes"] == then["routes"] and now["key_id"] == then["key_id"]
    assert json.loads(now["signed"])["serial"] == now["serial"]


@pytest.mark.parametrize(
    ("spoil", "said"),
    [
        (lambda data: data[: len(data) // 2], "not a backup"),
        (lambda data: data[:-1], "not a backup"),
        (lambda data: b"", "not a backup"),
        (lambda data: b"PK\3\4" + b"x" * 100, "not a backup"),
        (lambda data: data[:5000] + bytes([data[5000] ^ 1]) + data[5001:], "damaged"),
    ],
    ids=["half", "a byte short", "empty", "noise", "one bit"],
)
def test_a_damaged_backup_touches_nothing(
    depot: Path, saved: Path, tmp_path: Path, spoil: Callable[[bytes], bytes], said: str
) -> None:
    saved.write_bytes(spoil(saved.read_bytes()))
    before = content(depot, *NAMES)
    names = left(tmp_path)
    for where in (("--data", tmp_path / "again"), ("--replace", "--data", depot)):
        done = run("restore", saved, *where)
        assert done.returncode == 2
        assert said in done.stderr and len(done.stderr.splitlines()) == 1
    assert content(depot, *NAMES) == before and left(tmp_path) == names


def rewritten(file: Path, change: Callable[[dict[str, Any]], None], **members: bytes) -> Path:
    """The same backup with another manifest."""
    with zipfile.ZipFile(file) as old:
        kept = {name: old.read(name) for name in old.namelist()}
    manifest = json.loads(kept["manifest.json"])
    change(manifest)
    with zipfile.ZipFile(file, "w") as new:
        for name, data in {
            **kept,
            **members,
            "manifest.json": json.dumps(manifest).encode(),
        }.items():
            new.writestr(name, data)
    return file


@pytest.mark.parametrize(
    ("change", "said"),
    [
        (lambda m: m.update(version=2), "written by a newer version"),
        (lambda m: m.update(format="other"), "not a backup"),
        (lambda m: m["counts"].update(report=99), "do not hold what was backed up (report)"),
        (
            lambda m: m["files"].update({"../evil": {"sha256": "", "bytes": 0}}),
            "does not hold",
        ),
        (lambda m: m["files"]["database.sqlite3"].update(sha256="0" * 64), "is not what was"),
        (lambda m: m.pop("counts"), "not a backup"),
    ],
)
def test_a_backup_that_says_something_else_than_it_holds(
    saved: Path, tmp_path: Path, change: Callable[[dict[str, Any]], None], said: str
) -> None:
    done = run("restore", rewritten(saved, change), "--data", tmp_path / "again")
    assert done.returncode == 2 and said in done.stderr
    assert not (tmp_path / "again").exists() and not (tmp_path / "evil").exists()


def test_a_damaged_database_is_not_backed_up(depot: Path, tmp_path: Path) -> None:
    with closing(sqlite3.connect(depot / "step-in-hand.sqlite3")) as file:
        file.execute("UPDATE pack_file SET gz = x'00' WHERE kind = 'base'")
        file.execute("UPDATE report SET device_id = x'00'")
        file.commit()
    made = run("backup", tmp_path / "depot.zip", "--data", depot)
    assert made.returncode == 2
    assert "the database is damaged" in made.stderr
    assert "pack file" in made.stderr and "a row of report names one of device" in made.stderr
    assert left(tmp_path) == {"data", "static"}


@pytest.mark.parametrize("kib", [8, 400])
def test_r72b_on_a_full_disk_there_is_a_whole_backup_or_none(
    depot: Path, tmp_path: Path, kib: int
) -> None:
    """The system takes no more than this of any file: full in the copy, and in the zip."""
    with closing(sqlite3.connect(depot / "step-in-hand.sqlite3")) as file:
        file.execute(
            "INSERT INTO report_answer SELECT id, 'reviewed', NULL, received_at FROM report"
        )
        file.execute("UPDATE report_answer SET kind = hex(randomblob(150000))")
        file.commit()

    def little_room() -> None:
        resource.setrlimit(resource.RLIMIT_FSIZE, (kib * 1024, kib * 1024))

    full = run_apart("backup", tmp_path / "depot.zip", "--data", depot, preexec_fn=little_room)
    assert full.returncode == 2, full.stdout
    assert len(full.stderr.splitlines()) == 1 and "Traceback" not in full.stderr
    assert left(tmp_path) == {"data", "static"}
    assert run("backup", tmp_path / "depot.zip", "--data", depot).returncode == 0
    full = run_apart(
        "restore", tmp_path / "depot.zip", "--data", tmp_path / "again", preexec_fn=little_room
    )
    assert full.returncode == 2 and len(full.stderr.splitlines()) == 1
    assert left(tmp_path) == {"data", "static", "depot.zip"}


KILLED = """
import os, pathlib, sys
from webapp.commands import cli
left, real = int(sys.argv[1]), pathlib.Path.rename
def rename(self, target):
    global left
    left -= 1
    if left == 0:
        os._exit(9)
    return real(self, target)
pathlib.Path.rename = rename
sys.argv[1:] = sys.argv[2:]
cli.main()
"""


def killed(at: int, *words: str | Path) -> int:
    command = [sys.executable, "-c", KILLED, str(at), *map(str, words)]
    return subprocess.run(command, capture_output=True, timeout=60, check=False).returncode


def test_r72b_killed_before_any_name_appears(depot: Path, saved: Path, tmp_path: Path) -> None:
    """Power or process gone at each step: the depot is there as it was, under one name."""
    before = content(depot, *NAMES)
    assert killed(1, "backup", tmp_path / "two.zip", "--data", depot) == 9
    assert not (tmp_path / "two.zip").exists()
    codes = []
    for at in range(1, 9):
        codes.append(killed(at, "restore", saved, "--replace", "--data", depot))
        kept = sorted(tmp_path.glob("data-before-*"))
        if not depot.exists():  # between two renames: the former folder is whole beside
            assert content(kept[-1], *NAMES) == before
            kept[-1].rename(depot)
        assert content(depot, *NAMES) == before
        if codes[-1] == 0:
            break
    assert codes[:-1] == [9] * (len(codes) - 1) and codes[-1] == 0 and len(codes) >= 4


def test_a_name_that_is_taken_is_refused(depot: Path, saved: Path, tmp_path: Path) -> None:
    was = saved.read_bytes()
    again = run("backup", saved, "--data", depot)
    assert again.returncode == 2 and "Give a name that is not taken" in again.stderr
    assert saved.read_bytes() == was
    nowhere = run("backup", tmp_path / "no" / "a.zip", "--data", depot)
    assert nowhere.returncode == 2 and "no such folder" in nowhere.stderr
    taken = run("restore", saved, "--data", depot)
    assert taken.returncode == 2 and "add --replace" in taken.stderr
    empty = run("backup", tmp_path / "e.zip", "--data", tmp_path / "empty")
    assert empty.returncode == 2 and "there is no database" in empty.stderr
    assert run("restore", tmp_path / "none.zip", "--data", depot).returncode == 2
    (tmp_path / "bare").mkdir()
    assert run("restore", saved, "--data", tmp_path / "bare").returncode == 0


def test_r72b_a_backup_of_the_first_release_is_restored_with_tables_of_this_one(
    tmp_path: Path,
) -> None:
    """The tables are copied as they are: the backup before an update is the old version's."""
    (tmp_path / "old").mkdir()
    with closing(sqlite3.connect(tmp_path / "old" / "step-in-hand.sqlite3")) as file:
        file.executescript((GOLDEN / "sqlite.sql").read_text())
    made = run("backup", tmp_path / "old.zip", "--data", tmp_path / "old")
    assert made.returncode == 0, made.stderr
    assert archive.manifest_of(tmp_path / "old.zip").revision == "0001"
    done = run("restore", tmp_path / "old.zip", "--data", tmp_path / "new")
    assert done.returncode == 0, done.stderr
    assert content(tmp_path / "new", "person") == {"person": []}
    assert len(content(tmp_path / "new", "report")["report"]) == 4


@pytest.mark.postgres
def test_r72b_the_same_with_postgresql(
    make_app: Callable[..., Flask],
    postgres_url: str,
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    assert shutil.which("pg_dump") and shutil.which("pg_restore"), "install postgresql-client"
    app = make_app(DEMO=False, SECRET_KEY=SECRET, DATABASE_URL=postgres_url)
    fill(app)
    with app.app_context():
        db.engine.dispose()
    file, url = tmp_path / "depot.zip", config.database_url(postgres_url, tmp_path)
    made = backup.make(tmp_path / "data", url, file, with_key=True, version="0.2.0")
    assert made.counts["report"] == 2 and made.database == archive.POSTGRESQL
    with pytest.raises(copies.StoreTrouble, match="not empty, and nothing is restored over"):
        restore.restore(file, tmp_path / "again", url, replace=True)
    with pytest.raises(restore.Refused, match="a backup of PostgreSQL"):
        restore.restore(file, tmp_path / "again", "sqlite:///x", replace=False)
    other = f"sih_{uuid.uuid4().hex}"
    admin = create_engine(url, isolation_level="AUTOCOMMIT")
    with admin.connect() as connection:
        connection.execute(text(f"CREATE DATABASE {other}"))
    try:
        restored_elsewhere(file, made, make_url(postgres_url).set(database=other), monkeypatch)
    finally:
        with admin.connect() as connection:
            connection.execute(text(f"DROP DATABASE {other} WITH (FORCE)"))
        admin.dispose()


def restored_elsewhere(
    file: Path, made: archive.Manifest, url: URL, monkeypatch: pytest.MonkeyPatch
) -> None:
    other = url.render_as_string(hide_password=False)
    tmp_path = file.parent
    target = config.database_url(other, tmp_path)
    monkeypatch.setenv("STEP_IN_HAND_DATABASE_URL", other)
    done = restore.restore(file, tmp_path / "again", target, replace=False)
    assert done.has_key and done.former is None
    engine = create_engine(target)
    with engine.connect() as connection:
        found = whole.check(connection)
        told = connection.scalar(text("SELECT what FROM audit ORDER BY id DESC LIMIT 1"))
    engine.dispose()
    same = {name: made.counts[name] for name in NAMES}
    assert {name: found.counts[name] for name in NAMES} == same
    assert told == "depot.restored"


@pytest.mark.postgres
def test_without_the_client_of_postgresql_the_way_to_it_is_said(
    postgres_url: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("PATH", "")
    url = config.database_url(postgres_url, tmp_path)
    with pytest.raises(copies.StoreTrouble, match="Install the PostgreSQL client"):
        backup.make(tmp_path, url, tmp_path / "depot.zip", with_key=False, version="0.2.0")
    assert left(tmp_path) == set()
