"""The app's files: R23, R24 (one build under one address), never HTML for a missing file."""

from __future__ import annotations

import gzip
import json
import os
import re
from collections.abc import Callable
from pathlib import Path

import pytest
from click.testing import CliRunner
from flask import Flask
from flask.testing import FlaskClient

from tests.support.problems import assert_headers, assert_problem
from webapp.commands.cli import cli
from webapp.plain.config import SettingsError
from webapp.tablet import build as service

GZIP = {"Accept-Encoding": "gzip"}


@pytest.fixture
def client(lone_app: Flask) -> FlaskClient:
    return lone_app.test_client()


@pytest.fixture
def build(lone_app: Flask) -> str:
    return str(lone_app.extensions["shell"].current.id)


def test_r23_the_worker_carries_build_and_list_and_is_not_cached(
    client: FlaskClient, build: str
) -> None:
    answer = client.get("/sw.js")
    assert answer.headers["Cache-Control"] == "no-cache"
    assert answer.headers["Content-Type"].startswith("text/javascript")
    found = re.fullmatch(r'const BUILD = "(\w+)"; const FILES = (\[.*\]);', answer.text)
    assert found and found[1] == build
    assert json.loads(found[2]) == [
        "/",
        f"/app/{build}/app.css",
        f"/app/{build}/app.js",
        f"/app/{build}/icons/i.svg",
    ]


def test_a_module_is_in_the_script_and_can_be_read_by_itself_but_is_not_kept(
    client: FlaskClient, build: str, static_root: Path
) -> None:
    script = client.get(f"/app/{build}/app.js").text
    assert "const look = () => null;" in script and "import {" not in script
    own = client.get(f"/app/{build}/core/table.js")
    assert own.data == (static_root / "core" / "table.js").read_bytes()
    assert "core/table.js" not in client.get("/sw.js").text


def test_what_cannot_be_put_in_the_script_stops_the_start_with_its_place(
    static_root: Path,
) -> None:
    (static_root / "core" / "table.js").write_text("export default 1;\n")
    with pytest.raises(SettingsError, match=r"static/core/table\.js:1: export default"):
        service.read_build(static_root)


def test_r24_every_listed_file_is_there_and_of_this_build(
    client: FlaskClient, build: str
) -> None:
    listed = json.loads(re.search(r"FILES = (\[.*\])", client.get("/sw.js").text)[1])
    for address in listed:
        answer = client.get(address)
        assert answer.status_code == 200, address
        assert_headers(answer)
        if address != "/":
            assert "immutable" in answer.headers["Cache-Control"]


def test_page_and_manifest_name_the_build(client: FlaskClient, build: str) -> None:
    page, manifest = client.get("/"), client.get("/manifest.webmanifest")
    assert f"/app/{build}/app.css" in page.text
    assert page.headers["Content-Type"] == "text/html; charset=utf-8"
    assert manifest.headers["Content-Type"] == "application/manifest+json"
    assert json.loads(manifest.text)["icons"][0]["src"] == f"/app/{build}/icons/i.svg"
    for answer in (page, manifest):
        assert answer.headers["Cache-Control"] == "no-cache"
        assert "__" not in answer.text


@pytest.mark.parametrize(
    "path",
    ["none.js", "", "core", "../static/app.css", "%2e%2e/%2e%2e/x", "index.html", "sw.js"],
)
def test_a_missing_file_is_never_html(client: FlaskClient, build: str, path: str) -> None:
    assert_problem(client.get(f"/app/{build}/{path}"), 404)


def test_a_file_of_another_build_is_not_given_out_under_this_one(client: FlaskClient) -> None:
    assert_problem(client.get("/app/ffffffffffffffff/app.css"), 404, "no_such_file")


def test_text_is_sent_packed_with_a_tag_of_its_content(
    client: FlaskClient, build: str, static_root: Path
) -> None:
    path = f"/app/{build}/app.css"
    packed, plain = client.get(path, headers=GZIP), client.get(path)
    content = (static_root / "app.css").read_bytes()
    assert gzip.decompress(packed.data) == plain.data == content
    assert len(packed.data) < len(plain.data)
    assert packed.headers["ETag"] != plain.headers["ETag"]
    same = client.get(path, headers={"If-None-Match": plain.headers["ETag"]})
    assert same.status_code == 304


def test_the_build_is_named_by_content_not_by_file_times(static_root: Path) -> None:
    first = service.read_build(static_root).id
    os.utime(static_root / "app.css", (1, 1))
    assert service.read_build(static_root).id == first
    (static_root / "app.css").write_text("body { margin: 1px; }")
    assert service.read_build(static_root).id != first


@pytest.mark.parametrize("name", ["sw.js", "index.html", "manifest.webmanifest"])
def test_a_change_in_a_root_file_is_a_new_build_too(static_root: Path, name: str) -> None:
    first = service.read_build(static_root).id
    with (static_root / name).open("a") as file:
        file.write(" ")
    assert service.read_build(static_root).id != first


def test_renaming_or_moving_bytes_between_files_is_a_new_build() -> None:
    one = service.make_build({"a.js": b"xy", "b.js": b"z"}).id
    assert one != service.make_build({"a.js": b"x", "b.js": b"yz"}).id
    assert one != service.make_build({"a.js": b"xy", "c.js": b"z"}).id


def test_the_former_build_stays_and_the_one_before_goes(
    make_app: Callable[..., Flask], static_root: Path
) -> None:
    """An open page may still ask for its files after the server was updated once."""
    builds = []
    for version in range(3):
        (static_root / "app.css").write_text(f"/* {version} */")
        app = make_app()
        builds.append(app.extensions["shell"].current.id)
    client = app.test_client()
    found = [client.get(f"/app/{build}/app.css").status_code for build in builds]
    assert found == [404, 200, 200]
    assert client.get(f"/app/{builds[1]}/app.css").text == "/* 1 */"
    assert builds[2] in client.get("/sw.js").text


def test_a_build_that_was_damaged_on_disk_is_not_served(
    make_app: Callable[..., Flask], static_root: Path, tmp_path: Path
) -> None:
    former = make_app().extensions["shell"].current.id
    (tmp_path / "data" / "builds" / former / "app.css").write_text("cut")
    (static_root / "app.css").write_text("/* new */")
    client = make_app().test_client()
    assert_problem(client.get(f"/app/{former}/app.css"), 404)


def test_a_file_of_unknown_kind_stops_the_start_with_its_name(static_root: Path) -> None:
    (static_root / "notes.xyz").write_text("?")
    with pytest.raises(SettingsError, match=r"notes\.xyz.*MEDIA_TYPES"):
        service.read_build(static_root)


def test_the_app_is_found_beside_the_code() -> None:
    assert service.find_static().name in {"static", "_static"}


def test_r25_the_switch_gives_the_worker_that_takes_the_files_back(
    make_app: Callable[..., Flask], static_root: Path, tmp_path: Path
) -> None:
    """A running server obeys at once: nobody restarts a depot in the middle of a fault."""
    (static_root / "sw-off.js").write_text("// off")
    app = make_app()
    client, data = app.test_client(), app.config["DATA"]
    own = client.get("/sw.js").text
    assert own.startswith("const BUILD")
    for word, wanted in (("off", "// off"), ("off", "// off"), ("on", own), ("on", own)):
        run = CliRunner().invoke(cli, ["shell", word, "--data", str(data)])
        assert run.exit_code == 0, run.output
        answer = client.get("/sw.js")
        assert answer.text == wanted
        assert answer.headers["Cache-Control"] == "no-cache"
    assert "sw-off.js" not in own, "no tablet holds it"
