"""A depot of 0.2.0, upgraded: its packs stand as history without a source, on both stores.

The pack is the one that was kept of that release in `tests/golden/pack_v1/`, byte by byte.
"""

from __future__ import annotations

import gzip
import hashlib
import json
import re
import shutil
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

import flask_migrate
import pytest
from flask import Flask
from flask.testing import FlaskClient

from tests.support.desk import account, entered, submit
from tests.support.fake_pack import FakeFile, FakePack
from tests.webapp.test_proposals import PAGE, ROUTE, in_use, pack, press, propose
from webapp.commands import prepare
from webapp.commands import proposals as pack_commands
from webapp.publish import proposals, service
from webapp.store.datafolder import PLACE
from webapp.store.db import reading, writing

GOLDEN = Path(__file__).parents[2] / "golden" / "pack_v1"
#: The last migration that 0.2.0 had.
LAST = "0004"
THEN = datetime(2026, 11, 25, 14, tzinfo=UTC)


def golden() -> FakePack:
    plain = {path.stem: path.read_bytes() for path in sorted(GOLDEN.glob("*.json"))}
    for name, content in plain.items():
        assert hashlib.sha256(content).hexdigest() == name
    read = {name: json.loads(content) for name, content in plain.items()}
    first = next(n for n, one in read.items() if one["format"] == "step-in-hand/manifest")
    kinds = {n: one["format"].rsplit("/", 1)[1] for n, one in read.items()}
    files = [
        FakeFile(kinds[n], n, len(plain[n]), gzip.compress(plain[n], mtime=0))
        for n in sorted(plain, key=lambda n: n != first)
    ]
    return FakePack(ROUTE, read[first]["name"], first, tuple(files))


OLDER, NEWER = golden(), pack(-100, source=False)


@pytest.fixture
def old(app: Flask) -> Flask:
    """Two packs came into use one after the other under the tables of 0.2.0; then upgraded."""
    with app.app_context():
        flask_migrate.downgrade(revision=LAST)
        for n, one in enumerate((OLDER, NEWER)):
            with writing() as session:
                service.publish(session, one, THEN + timedelta(hours=n))
    shutil.rmtree(app.config["DATA"] / PLACE)  # in the folder of 0.2.0 stood no id either
    prepare.migrate(app)
    app.config["DEMO"] = False
    return app


@pytest.fixture
def fenn(old: Flask) -> FlaskClient:
    return entered(old, account(old, "fenn", "publish"))


def shown(client: FlaskClient, path: str) -> str:
    answer = client.get(path)
    assert answer.status_code == 200, answer.text
    return re.sub(r"\s+", " ", re.sub(r"<[^>]+>", " ", answer.text))


def test_its_packs_stand_in_the_history_and_are_served_as_they_were(
    old: Flask, fenn: FlaskClient
) -> None:
    page = shown(fenn, f"/desk/packs/{ROUTE}")
    for one in (OLDER, NEWER):
        assert one.sha256[:8] in page
    assert page.count("not recorded") == page.count("Its route files are not here.") == 2
    assert "from before they were kept" in shown(fenn, "/desk/packs")
    said = old.test_cli_runner().invoke(history_command(old), [ROUTE])
    assert said.exit_code == 0 and said.output.count("its source is not here") == 2
    tablet = old.test_client()
    index = tablet.get("/api/index").get_json()
    assert [one["pack"] for one in index["routes"]] == [NEWER.sha256]
    for file in OLDER.files:
        assert hashlib.sha256(tablet.get(f"/packs/{file.sha256}").data).hexdigest() == (
            file.sha256
        )


def history_command(old: Flask) -> Any:
    return next(one for one in pack_commands.COMMANDS if one.name == "history")


@pytest.fixture(autouse=True)
def this_depot(old: Flask, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(pack_commands, "open_data", lambda _data, **_more: old)


def test_it_cannot_be_built_and_says_what_to_do(old: Flask, fenn: FlaskClient) -> None:
    answer = submit(fenn, f"/desk/packs/{ROUTE}/build", reason="x")
    assert answer.status_code == 422
    assert "The files of this line are not here." in answer.text
    assert "step-in-hand pack propose FOLDER" in answer.text


def test_it_is_compared_by_its_tables_put_back_and_withdrawn(
    old: Flask, fenn: FlaskClient
) -> None:
    answer = submit(fenn, f"/desk/packs/{ROUTE}/back/{OLDER.sha256}", reason="as before")
    assert answer.status_code == 302, answer.text
    number = int(answer.headers["Location"].rsplit("/", 1)[1])
    page = shown(fenn, f"{PAGE}/{number}")
    # Each brake point of the newer pack is 100 m later than the older one's.
    assert "Begins earlier" in page and "Fern Mill" in page and "Begins later" not in page
    assert "Larch Valley → Golden Larch" in page  # a line under another name takes two
    vale = entered(old, account(old, "vale", "publish"))
    assert press(vale, number, "approve").status_code == 302
    assert in_use(old) == OLDER.sha256
    path = f"/desk/packs/{ROUTE}/withdraw"
    assert submit(fenn, f"{path}?pack={NEWER.sha256}", reason="late").status_code == 302
    assert in_use(old) == OLDER.sha256
    assert submit(fenn, path, reason="all of it").status_code == 302
    assert in_use(old) is None
    said = json.loads(old.test_client().get("/api/index").get_json()["signed"])
    assert said["withdrawn"][0]["packs"] == sorted((OLDER.sha256, NEWER.sha256))


def test_a_pack_of_today_is_compared_with_one_of_0_2_0(old: Flask, fenn: FlaskClient) -> None:
    number = propose(old, pack(-200), "fenn")
    page = shown(fenn, f"{PAGE}/{number}")
    assert "Needs a second person: begins later" in page
    with old.app_context(), reading() as session:
        assert proposals.any_of(session, number).former == NEWER.sha256
