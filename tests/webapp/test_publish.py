"""Packs and the index as tablets fetch them: R45 (ETag), R46 (by hash, immutable)."""

from __future__ import annotations

import gzip
import hashlib
import threading
from concurrent.futures import ThreadPoolExecutor
from datetime import UTC, datetime

import pytest
from flask import Flask
from flask.testing import FlaskClient

from tests.support.fake_pack import FakePack, pack
from tests.support.problems import assert_headers, assert_problem
from webapp.publish import service
from webapp.store.db import reading, writing

NOW = datetime(2026, 11, 25, tzinfo=UTC)


def publish(app: Flask, what: FakePack) -> service.Index:
    with app.app_context(), writing() as session:
        return service.publish(session, what, NOW)


@pytest.fixture
def client(app: Flask) -> FlaskClient:
    return app.test_client()


def test_before_anything_is_published_the_index_is_empty(client: FlaskClient) -> None:
    index = client.get("/api/index").get_json()
    assert (index["serial"], index["routes"]) == (0, [])


def test_the_index_names_pack_and_sizes(app: Flask, client: FlaskClient) -> None:
    made = pack()
    publish(app, made)
    index = client.get("/api/index").get_json()
    assert index["routes"] == [
        {
            "key": "larch-valley",
            "name": "Larch Valley",
            "pack": made.sha256,
            "bytes": sum(file.size for file in made.files),
            "gz_bytes": sum(len(file.gz) for file in made.files),
        }
    ]
    assert index["app_build"] == app.extensions["shell"].current.id
    assert index["server_time"].endswith("Z")


def test_publishing_the_same_again_changes_nothing(app: Flask) -> None:
    first, again = publish(app, pack()), publish(app, pack())
    assert first == again
    assert first.serial == 1


def test_a_changed_pack_raises_the_serial_and_the_old_files_stay(
    app: Flask, client: FlaskClient
) -> None:
    old, new = pack(words="old"), pack(words="new")
    publish(app, old)
    publish(app, pack("salt-line"))
    assert publish(app, new).serial == 3
    assert [r["key"] for r in client.get("/api/index").get_json()["routes"]] == [
        "larch-valley",
        "salt-line",
    ]
    for file in (*old.files, *new.files):
        assert client.get(f"/packs/{file.sha256}").status_code == 200


def test_r45_the_index_has_a_strong_etag_and_answers_304(
    app: Flask, client: FlaskClient
) -> None:
    publish(app, pack())
    tag = client.get("/api/index").headers["ETag"]
    assert tag.startswith('"')
    same = client.get("/api/index", headers={"If-None-Match": tag})
    assert (same.status_code, same.data) == (304, b"")
    assert same.headers["ETag"] == tag
    assert_headers(same)
    publish(app, pack(words="changed"))
    changed = client.get("/api/index", headers={"If-None-Match": tag})
    assert changed.status_code == 200
    assert changed.headers["ETag"] != tag


def test_r43_eight_publishers_at_once_take_eight_serials(app: Flask) -> None:
    barrier = threading.Barrier(8)

    def work(n: int) -> int:
        barrier.wait()
        return publish(app, pack(f"line-{n}")).serial

    with ThreadPoolExecutor(8) as pool:
        assert sorted(pool.map(work, range(8))) == list(range(1, 9))
    with app.app_context(), reading() as session:
        assert len(service.current(session).routes) == 8


@pytest.mark.parametrize("accept", ["gzip", "gzip, deflate, br", "*", "br, gzip;q=0.1"])
def test_r46_a_pack_file_is_sent_as_stored(
    app: Flask, client: FlaskClient, accept: str
) -> None:
    made = pack()
    publish(app, made)
    for file in made.files:
        answer = client.get(f"/packs/{file.sha256}", headers={"Accept-Encoding": accept})
        assert answer.headers["Content-Encoding"] == "gzip"
        assert answer.headers["Content-Type"] == "application/json"
        assert "immutable" in answer.headers["Cache-Control"]
        assert answer.data == file.gz
        assert hashlib.sha256(gzip.decompress(answer.data)).hexdigest() == file.sha256


@pytest.mark.parametrize("accept", [None, "identity", "gzip;q=0", "*;q=0, identity", "br"])
def test_a_client_that_refuses_gzip_gets_the_bytes_themselves(
    app: Flask, client: FlaskClient, accept: str | None
) -> None:
    made = pack()
    publish(app, made)
    file = made.files[1]
    headers = {} if accept is None else {"Accept-Encoding": accept}
    answer = client.get(f"/packs/{file.sha256}", headers=headers)
    assert "Content-Encoding" not in answer.headers
    assert hashlib.sha256(answer.data).hexdigest() == file.sha256
    assert "Accept-Encoding" in answer.headers["Vary"]


def test_the_two_encodings_have_two_strong_tags(app: Flask, client: FlaskClient) -> None:
    made = pack()
    publish(app, made)
    path = f"/packs/{made.files[1].sha256}"
    packed = client.get(path, headers={"Accept-Encoding": "gzip"}).headers["ETag"]
    plain = client.get(path).headers["ETag"]
    assert packed != plain
    again = client.get(path, headers={"Accept-Encoding": "gzip", "If-None-Match": packed})
    assert again.status_code == 304


def test_an_unknown_name_is_404(client: FlaskClient) -> None:
    assert_problem(client.get("/packs/" + "a" * 64), 404, "no_such_file")
