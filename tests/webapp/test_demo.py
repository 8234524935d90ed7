"""A demo and a depot in service are kept apart: by folder, by database, on every page."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest
from click.testing import CliRunner
from flask import Flask

from tests.support.desk import account, desk_client
from webapp import create_app
from webapp.commands import cli, demo, prepare
from webapp.plain.config import SettingsError
from webapp.store.db import db

SECRET = "0123456789abcdef0123456789abcdef"
LINE = "Demo: invented lines, not for service"


Made = Callable[..., Flask]


@pytest.fixture
def made() -> Iterator[Made]:
    """An application with its tables on a folder, as a command makes it."""
    apps = []

    def make(data: Path, **config: Any) -> Flask:
        apps.append(create_app({"DATA": data, "SECRET_KEY": SECRET, **config}))
        prepare.migrate(apps[-1])
        return apps[-1]

    yield make
    for app in apps:
        with app.app_context():
            db.engine.dispose()


def test_what_a_demo_made_is_not_served(
    made: Made, tmp_path: Path, database_url: str | None
) -> None:
    """By its folder, and by its database once somebody took the folder's mark away."""
    data = tmp_path / "demo"
    demo.begin(made(data, DEMO=True, DATABASE_URL=database_url))
    with pytest.raises(SettingsError, match=r"demo: made by a demo.* is not served"):
        demo.refuse(made(data, DATABASE_URL=database_url))
    (data / demo.FILE).unlink()
    with pytest.raises(SettingsError, match=r"its database: made by a demo"):
        demo.refuse(made(data, DATABASE_URL=database_url))
    demo.refuse(made(tmp_path / "empty"))


def test_serve_says_so_and_ends(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("STEP_IN_HAND_SECRET_KEY", SECRET)
    monkeypatch.setattr(cli.server, "run", lambda *_: None)
    data = ["--data", str(tmp_path / "data")]
    begun = CliRunner().invoke(cli.cli, ["demo", "--no-lines", "--no-samples", *data])
    assert begun.exit_code == 0, begun.output
    served = CliRunner().invoke(cli.cli, ["serve", *data])
    assert isinstance(served.exception, SettingsError)
    assert "enrol each tablet by a code" in str(served.exception)


@pytest.mark.parametrize("name", demo.OF_BEFORE)
def test_a_demo_from_before_there_was_a_mark_is_known(
    made: Made, tmp_path: Path, name: str
) -> None:
    app = made(tmp_path)
    (tmp_path / name).write_text("{}")
    with pytest.raises(SettingsError, match="made by a demo"):
        demo.refuse(app)


def test_no_demo_is_started_on_a_depot_in_service(
    made: Made, tmp_path: Path, database_url: str | None
) -> None:
    app = made(tmp_path, DATABASE_URL=database_url)
    account(app, "vale")
    with pytest.raises(SettingsError, match="holds a depot in service"):
        demo.begin(made(tmp_path, DEMO=True, DATABASE_URL=database_url))
    assert not demo.is_folder(tmp_path)


def test_nothing_in_the_environment_makes_a_demo(
    made: Made, tmp_path: Path, static_root: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("STEP_IN_HAND_DEMO", "1")
    app = made(tmp_path, STATIC_ROOT=static_root)
    answer = app.test_client().get("/")
    assert (app.config["DEMO"], answer.headers.getlist("Set-Cookie")) == (False, [])


def test_a_demo_says_what_it_is_on_every_page(
    make_app: Callable[..., Flask], static_root: Path
) -> None:
    page = static_root / "index.html"
    page.write_text(
        page.read_text().replace("<!doctype html>", '<!doctype html><html lang="en">')
    )
    for is_demo in (True, False):
        app = make_app(DEMO=is_demo, SECRET_KEY=SECRET, DATA=static_root.parent / str(is_demo))
        client = desk_client(app, manages=True)
        paths = ["/guide", "/checks", "/lessons", "/desk/log-in", "/desk/people", "/desk/kept"]
        for path in [*paths, "/desk/reports", "/desk/control", "/desk/handover"]:
            assert (LINE in client.get(path).text) == is_demo, path
        assert ("<html data-demo " in client.get("/").text) == is_demo
