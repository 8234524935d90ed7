"""Starting: what is refused and how it is said. R63, and the command line's own errors."""

from __future__ import annotations

import hashlib
import importlib
import os
import shutil
import socket
import sqlite3
import subprocess
import sys
import urllib.request
from collections.abc import Callable, Iterator
from contextlib import closing
from pathlib import Path
from typing import Any

import pytest
from flask import Flask

import webapp
from tests.support.desk import desk_cookie
from tests.support.server import Server
from webapp import create_app
from webapp.commands import server
from webapp.plain import config

SECRET = "0123456789abcdef0123456789abcdef"


@pytest.fixture(autouse=True)
def no_environment(monkeypatch: pytest.MonkeyPatch) -> Iterator[None]:
    for name in config.FROM_ENVIRONMENT:
        monkeypatch.delenv(config.PREFIX + name, raising=False)
    yield


@pytest.fixture
def production(tmp_path: Path, static_root: Path) -> Callable[..., Flask]:
    def make(**more: Any) -> Flask:
        return create_app({"DATA": tmp_path / "data", "STATIC_ROOT": static_root, **more})

    return make


def test_importing_the_package_builds_no_application() -> None:
    module = importlib.import_module("webapp")
    assert not [name for name, value in vars(module).items() if isinstance(value, Flask)]


@pytest.mark.parametrize(
    "secret", [None, "", "dev", "secret", "changeme", "CHANGE-ME", "fifteen letters"]
)
def test_r63_production_does_not_start_without_a_secret_of_its_own(
    production: Callable[..., Flask], secret: str | None
) -> None:
    with pytest.raises(config.SettingsError, match=r"SECRET_KEY.*secrets\.token_hex"):
        production(SECRET_KEY=secret)


def test_r63_production_does_not_start_in_debug_mode(
    production: Callable[..., Flask],
) -> None:
    with pytest.raises(config.SettingsError, match="debug mode is on"):
        production(SECRET_KEY=SECRET, DEBUG=True)


def test_production_starts_with_a_secret(production: Callable[..., Flask]) -> None:
    app = production(SECRET_KEY=SECRET)
    assert app.config["SECRET_KEY"] == SECRET
    assert not app.debug


def test_the_data_folder_is_its_users_alone(
    production: Callable[..., Flask], tmp_path: Path
) -> None:
    production(SECRET_KEY=SECRET)
    assert (tmp_path / "data").stat().st_mode & 0o077 == 0


@pytest.mark.parametrize("host", ["0.0.0.0", "::", "::1", "192.168.1.5", "depot-pc"])
def test_r63_plain_http_is_only_heard_on_this_machine(host: str) -> None:
    with pytest.raises(config.SettingsError, match="TRUSTED_PROXY"):
        server.refuse_open_bind(host, None)
    server.refuse_open_bind(host, "127.0.0.1")


@pytest.mark.parametrize("host", ["127.0.0.1", "localhost"])
def test_loopback_needs_no_front_server(host: str) -> None:
    server.refuse_open_bind(host, None)


@pytest.mark.parametrize("proxy", ["*", "depot", "10.0.0.0/8"])
def test_the_trusted_front_server_is_one_address(
    production: Callable[..., Flask], proxy: str
) -> None:
    with pytest.raises(config.SettingsError, match="not one IP address"):
        production(SECRET_KEY=SECRET, TRUSTED_PROXY=proxy, PUBLIC_HOST="depot.example")


@pytest.mark.parametrize(
    "host", [None, "https://depot.example", "depot.example/x", "a b", "*"]
)
def test_a_front_server_needs_the_name_it_is_asked_by(
    production: Callable[..., Flask], host: str | None
) -> None:
    with pytest.raises(config.SettingsError, match=r"PUBLIC_HOST.*depot\.example"):
        production(SECRET_KEY=SECRET, TRUSTED_PROXY="127.0.0.1", PUBLIC_HOST=host)


def test_a_data_folder_that_others_may_look_into_is_refused(tmp_path: Path) -> None:
    data = tmp_path / "data"
    data.mkdir()
    data.chmod(0o750)  # whatever the umask here
    done = run("serve", "--data", str(data), STEP_IN_HAND_SECRET_KEY=SECRET)
    assert_one_plain_line(done, f"chmod 700 {data}")


def test_what_a_server_makes_is_its_users_alone(tmp_path: Path) -> None:
    with Server(tmp_path / "data", demo=False, env={"STEP_IN_HAND_SECRET_KEY": SECRET}) as one:
        made = [one.data, *(p for p in one.data.rglob("*") if p.name != "server.log")]
        assert one.database in made
        assert [path for path in made if path.stat().st_mode & 0o077] == []


def test_an_unknown_zone_is_refused_by_name(production: Callable[..., Flask]) -> None:
    with pytest.raises(config.SettingsError, match="Nowhere/Land"):
        production(SECRET_KEY=SECRET, DESK_ZONE="Nowhere/Land")


@pytest.mark.parametrize("url", ["nonsense", "mysql://u:hunter2@h/x", "mongodb://h"])
def test_a_database_we_do_not_know_is_refused_without_its_password(
    production: Callable[..., Flask], url: str
) -> None:
    with pytest.raises(config.SettingsError, match="DATABASE_URL") as caught:
        production(SECRET_KEY=SECRET, DATABASE_URL=url)
    assert "hunter2" not in str(caught.value)


def test_the_environment_is_read_and_what_code_says_wins(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    monkeypatch.setenv("STEP_IN_HAND_DATA", str(tmp_path / "from-environment"))
    monkeypatch.setenv("STEP_IN_HAND_DESK_ZONE", "Europe/London")
    monkeypatch.setenv("STEP_IN_HAND_DEMO", "1")  # what turned service into a demo once
    found = config.collect({"DESK_ZONE": "UTC"})
    assert found["DATA"] == tmp_path / "from-environment"
    assert found["DESK_ZONE"] == "UTC"
    assert found["DEMO"] is False
    assert str(tmp_path) in found["SQLALCHEMY_DATABASE_URI"]


@pytest.mark.parametrize(
    ("given", "used"),
    [
        ("postgresql://u@h/d", "postgresql+psycopg://u@h/d"),
        ("postgres://u@h/d", "postgresql+psycopg://u@h/d"),
        ("postgresql+psycopg://u@h/d", "postgresql+psycopg://u@h/d"),
        ("sqlite:////x/y.db", "sqlite:////x/y.db"),
    ],
)
def test_the_usual_spelling_of_a_postgresql_address_works(given: str, used: str) -> None:
    assert config.database_url(given, Path("/data")) == used


def run(*arguments: str, **environment: str) -> subprocess.CompletedProcess[str]:
    return subprocess.run(
        [sys.executable, "-m", "webapp.commands.cli", *arguments],
        capture_output=True,
        text=True,
        timeout=90,
        env={**os.environ, **environment},
        check=False,
    )


def assert_one_plain_line(done: subprocess.CompletedProcess[str], *words: str) -> None:
    assert done.returncode == 2, done.stderr
    assert done.stderr.count("\n") == 1 and "Traceback" not in done.stderr
    assert done.stderr.startswith("step-in-hand: ")
    for word in words:
        assert word in done.stderr


def test_serve_without_a_secret_says_what_to_set(tmp_path: Path) -> None:
    assert_one_plain_line(run("serve", "--data", str(tmp_path)), "STEP_IN_HAND_SECRET_KEY")


def test_serve_on_an_open_address_says_what_to_do(tmp_path: Path) -> None:
    arguments = ("serve", "--host", "0.0.0.0", "--data", str(tmp_path))
    done = run(*arguments, STEP_IN_HAND_SECRET_KEY=SECRET)
    assert_one_plain_line(done, "0.0.0.0", "front server")


def test_a_port_in_use_says_what_to_do(tmp_path: Path) -> None:
    with socket.create_server(("127.0.0.1", 0)) as taken:
        port = str(taken.getsockname()[1])
        arguments = ("serve", "--port", port, "--data", str(tmp_path))
        done = run(*arguments, STEP_IN_HAND_SECRET_KEY=SECRET)
    assert_one_plain_line(done, port, "--port 0")


@pytest.mark.parametrize(
    ("arguments", "word"),
    [
        (("serve", "--port", "70000"), "70000"),
        (("serve", "--prot", "80"), "--prot"),
        (("sevre",), "sevre"),
        (("serve", "--data", "/dev/null/x"), "/dev/null"),
        (("pack", "build", "no-such-line"), "no-such-line"),
    ],
)
def test_a_wrong_command_is_one_plain_line(arguments: tuple[str, ...], word: str) -> None:
    assert_one_plain_line(run(*arguments, STEP_IN_HAND_SECRET_KEY=SECRET), word)


def test_a_database_that_is_not_there_is_one_plain_line(tmp_path: Path) -> None:
    done = run(
        *("serve", "--data", str(tmp_path)),
        STEP_IN_HAND_SECRET_KEY=SECRET,
        STEP_IN_HAND_DATABASE_URL="postgresql://nobody@127.0.0.1:1/none",
    )
    assert_one_plain_line(done, "database")


def test_a_file_that_is_no_database_is_one_plain_line(tmp_path: Path) -> None:
    (tmp_path / "step-in-hand.sqlite3").write_text("not a database, but long enough" * 50)
    done = run("serve", "--data", str(tmp_path), STEP_IN_HAND_SECRET_KEY=SECRET)
    assert_one_plain_line(done, "database")


def test_help_names_every_task() -> None:
    done = run("--help")
    assert done.returncode == 0
    for task in ("approach", "demo", "serve", "pack"):
        assert f"\n  {task} " in done.stdout
    assert webapp.__version__ in run("--version").stdout


def test_a_store_of_a_newer_version_is_one_plain_line(tmp_path: Path) -> None:
    with closing(sqlite3.connect(tmp_path / "step-in-hand.sqlite3")) as file:
        file.execute("CREATE TABLE alembic_version (version_num VARCHAR(32))")
        file.execute("INSERT INTO alembic_version VALUES ('9999')")
        file.commit()
    done = run("serve", "--data", str(tmp_path), STEP_IN_HAND_SECRET_KEY=SECRET)
    assert_one_plain_line(done, "newer version")


@pytest.mark.parametrize(("proxy", "believed"), [(None, False), ("127.0.0.1", True)])
def test_https_is_believed_only_from_the_trusted_front_server(
    tmp_path: Path, proxy: str | None, believed: bool
) -> None:
    """R64's heart: waitress takes the header away from anybody else."""
    env = {"STEP_IN_HAND_SECRET_KEY": SECRET}
    if proxy:
        env["STEP_IN_HAND_TRUSTED_PROXY"] = proxy
        env["STEP_IN_HAND_PUBLIC_HOST"] = "127.0.0.1"
    with Server(tmp_path, demo=False, env=env) as running:
        call = urllib.request.Request(
            f"{running.url}/api/ping?n=1", headers={"X-Forwarded-Proto": "https"}
        )
        with urllib.request.urlopen(call, timeout=5) as answer:
            assert ("Strict-Transport-Security" in answer.headers) == believed


def test_a_second_start_of_the_demo_computes_nothing_and_adds_nothing(
    demo_data: Path, tmp_path: Path
) -> None:
    shutil.copytree(demo_data, tmp_path / "data")
    demo = Server(tmp_path / "data", task="demo")
    for _ in range(2):
        with demo:
            assert demo.count() == 5
            call = urllib.request.Request(
                f"{demo.url}/desk/reports",
                headers={"Cookie": f"sih-desk={desk_cookie(demo.data)}"},
            )
            with urllib.request.urlopen(call, timeout=5) as page:
                text = page.read().decode()
    assert demo.log().count("unchanged, its pack is there") == 4
    assert "computing" not in demo.log()
    for shown in (
        "report 3 has not arrived",
        "clock is wrong by 1 h",
        "1 from tablets not enrolled",
    ):
        assert shown in text


def test_the_published_demo_packs_are_whole(demo_data: Path, tmp_path: Path) -> None:
    """R46: every file that index and manifest name is there, under its own hash."""
    shutil.copytree(demo_data, tmp_path / "data")
    client = create_app({"DATA": tmp_path / "data", "DEMO": True}).test_client()
    routes = client.get("/api/index").get_json()["routes"]
    assert len(routes) == 2
    for route in routes:
        manifest = client.get(f"/packs/{route['pack']}")
        assert hashlib.sha256(manifest.data).hexdigest() == route["pack"]
        files = manifest.get_json()["files"]
        for file in files:
            sent = client.get(f"/packs/{file['sha256']}").data
            assert hashlib.sha256(sent).hexdigest() == file["sha256"]
            assert len(sent) == file["bytes"]
        assert route["bytes"] == len(manifest.data) + sum(file["bytes"] for file in files)
