"""The signed index and the depot's key: R45, R46, R49, on SQLite and PostgreSQL.

Signatures are checked with the public keys alone, by the library's own verifiers.
"""

from __future__ import annotations

import base64
import hashlib
import json
import os
import threading
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import pytest
import rfc8785
from cryptography.exceptions import InvalidSignature
from cryptography.hazmat.primitives import hashes
from cryptography.hazmat.primitives.asymmetric import ec, ed25519
from cryptography.hazmat.primitives.asymmetric.utils import encode_dss_signature
from flask import Flask
from flask.testing import FlaskClient
from sqlalchemy import select, update

from tests.support.fake_pack import pack
from tests.support.problems import assert_problem
from webapp.lines.rows import IndexRev
from webapp.plain.config import SettingsError
from webapp.publish import service
from webapp.publish.keys import KeyFile
from webapp.store.audit import AuditEntry
from webapp.store.db import reading, writing

NOW = datetime(2026, 11, 25, 7, 30, tzinfo=UTC)


def verify(keys: dict[str, Any], signed: dict[str, Any]) -> None:
    """Raise `InvalidSignature` unless both signatures fit the text."""
    text = signed["signed"].encode()
    one = ed25519.Ed25519PublicKey.from_public_bytes(base64.b64decode(keys["ed25519"]))
    one.verify(base64.b64decode(signed["sig_ed25519"]), text)
    point = base64.b64decode(keys["p256"])
    other = ec.EllipticCurvePublicKey.from_encoded_point(ec.SECP256R1(), point)
    raw = base64.b64decode(signed["sig_p256"])
    assert len(raw) == 64
    r, s = int.from_bytes(raw[:32], "big"), int.from_bytes(raw[32:], "big")
    other.verify(encode_dss_signature(r, s), text, ec.ECDSA(hashes.SHA256()))


def publish(app: Flask, what: Any, *, signed: bool = True) -> service.Index:
    keys: KeyFile = app.extensions["depot_key"]
    with app.app_context(), writing() as session:
        if signed:
            service.ready(session, keys, NOW)
        return service.publish(session, what, NOW, keys.load() if signed else None)


def withdraw(app: Flask, route: str, reason: str = "wrong marks") -> service.Index:
    with app.app_context(), writing() as session:
        key = app.extensions["depot_key"].load()
        return service.withdraw(session, route, reason, NOW, key, "a test")


def renew(app: Flask, **how: Any) -> None:
    with app.app_context(), writing() as session:
        service.renew_key(session, app.extensions["depot_key"], NOW, "a test", **how)


@pytest.fixture
def client(app: Flask) -> FlaskClient:
    return app.test_client()


@pytest.fixture
def key_path(app: Flask) -> Path:
    path: Path = app.extensions["depot_key"].path
    return path


def get(client: FlaskClient, path: str) -> Any:
    answer = client.get(path)
    assert answer.status_code == 200, answer.text
    return answer.get_json()


def test_r49_the_index_is_signed_with_both_keys(app: Flask, client: FlaskClient) -> None:
    publish(app, pack())
    index, keys = get(client, "/api/index"), get(client, "/api/keys")
    verify(keys, index)
    parts = [base64.b64decode(keys[name]) for name in ("ed25519", "p256")]
    assert [len(part) for part in parts] == [32, 65]
    assert hashlib.sha256(b"".join(parts)).hexdigest() == keys["key_id"] == index["key_id"]


def test_r49_the_signed_text_is_canonical_and_says_what_older_apps_read(
    app: Flask, client: FlaskClient
) -> None:
    publish(app, pack())
    index = get(client, "/api/index")
    inside = json.loads(index["signed"])
    assert rfc8785.dumps(inside).decode() == index["signed"]
    assert (inside["format"], inside["version"]) == ("step-in-hand/index", 1)
    assert (inside["serial"], inside["routes"]) == (index["serial"], index["routes"])
    assert (inside["published_at"], inside["withdrawn"]) == ("2026-11-25T07:30:00.000000Z", [])


@pytest.mark.parametrize("name", ["signed", "sig_ed25519", "sig_p256"])
def test_the_check_of_these_tests_can_fail(app: Flask, client: FlaskClient, name: str) -> None:
    publish(app, pack())
    index, keys = get(client, "/api/index"), get(client, "/api/keys")
    other = {"signed": index["signed"] + " "}.get(name, index[name][::-1])
    if name != "signed":
        raw = bytearray(base64.b64decode(index[name]))
        raw[5] ^= 1
        other = base64.b64encode(raw).decode()
    with pytest.raises(InvalidSignature):
        verify(keys, {**index, name: other})


def test_an_empty_depot_signs_that_there_is_nothing(client: FlaskClient) -> None:
    index, keys = get(client, "/api/index"), get(client, "/api/keys")
    verify(keys, index)
    assert json.loads(index["signed"])["routes"] == []
    assert get(client, "/api/index")["key_id"] == keys["key_id"]


def test_a_proof_holds_the_word_asked_with_the_time_and_the_index(
    app: Flask, client: FlaskClient
) -> None:
    """It cannot be kept and shown again: each is for one question, and says when it was."""
    publish(app, pack())
    index, keys = get(client, "/api/index"), get(client, "/api/keys")
    before = datetime.now(UTC)
    proof = get(client, "/api/proof?n=made-up")
    verify(keys, proof)
    said = json.loads(proof["signed"])
    assert rfc8785.dumps(said).decode() == proof["signed"]
    assert (said["format"], said["n"]) == ("step-in-hand/proof", "made-up")
    assert before <= datetime.fromisoformat(said["at"]) <= datetime.now(UTC)
    assert said["index"] == hashlib.sha256(index["signed"].encode()).hexdigest()
    assert json.loads(get(client, "/api/proof?n=another")["signed"])["n"] == "another"
    assert_problem(client.get("/api/proof"), 422, "unprocessable_entity")


def test_a_proof_of_an_empty_depot_names_its_empty_index(client: FlaskClient) -> None:
    index, proof = get(client, "/api/index"), get(client, "/api/proof?n=1")
    said = json.loads(proof["signed"])["index"]
    assert said == hashlib.sha256(index["signed"].encode()).hexdigest()


def test_an_index_of_an_older_version_is_signed_when_first_served(
    app: Flask, client: FlaskClient
) -> None:
    publish(app, pack(), signed=False)
    first = get(client, "/api/index")
    verify(get(client, "/api/keys"), first)
    again = get(client, "/api/index")
    # P-256 signatures hold a random number: equal ones were stored, not made again.
    assert again["sig_p256"] == first["sig_p256"]


def test_eight_at_once_at_the_first_start_meet_one_key(app: Flask) -> None:
    publish(app, pack(), signed=False)
    barrier = threading.Barrier(8)

    def ask(_n: int) -> str:
        client = app.test_client()
        barrier.wait()
        found: str = get(client, "/api/index")["sig_p256"]
        return found

    with ThreadPoolExecutor(8) as pool:
        assert len(set(pool.map(ask, range(8)))) == 1


def test_r45_the_tag_follows_pack_withdrawal_and_key(app: Flask, client: FlaskClient) -> None:
    tags = []
    publish(app, pack())
    tags.append(client.get("/api/index").headers["ETag"])
    withdraw(app, "larch-valley")
    tags.append(client.get("/api/index").headers["ETag"])
    renew(app)
    tags.append(client.get("/api/index").headers["ETag"])
    assert len(set(tags)) == 3
    assert all(tag.startswith('"') for tag in tags)
    same = client.get("/api/index", headers={"If-None-Match": tags[-1]})
    assert same.status_code == 304


def test_the_key_file_is_the_servers_alone_and_not_in_the_database(
    lone_app: Flask, tmp_path: Path
) -> None:
    publish(lone_app, pack())
    path: Path = lone_app.extensions["depot_key"].path
    assert path.stat().st_mode & 0o777 == 0o600
    assert path.parent.stat().st_mode & 0o777 == 0o700
    assert [each.name for each in path.parent.iterdir()] == ["signing.json"]
    text = path.read_text()
    secret = [line for line in json.loads(text)["ed25519"].splitlines() if "-" not in line]
    for stored in (tmp_path / "data").glob("*.sqlite3*"):
        assert b"PRIVATE" not in stored.read_bytes()
        assert secret[0].encode() not in stored.read_bytes()


@pytest.mark.parametrize("share", [0, 0.1, 0.5, 0.9, 0.999])
def test_a_half_written_key_file_is_refused_with_its_cure(
    lone_app: Flask, share: float
) -> None:
    publish(lone_app, pack())
    path: Path = lone_app.extensions["depot_key"].path
    whole = path.read_text()
    path.write_text(whole[: int(len(whole) * share)])
    with pytest.raises(SettingsError, match=r"signing\.json.*half there.*backup.*--lost"):
        KeyFile(path.parent.parent).load()
    answer = lone_app.test_client().get("/api/index")
    assert_problem(answer, 503, "signing_key")
    assert str(path) not in answer.text, "a tablet need not know the server's folders"
    path.write_text(whole)
    get(lone_app.test_client(), "/api/index")


@pytest.mark.parametrize(
    ("name", "value"),
    [
        ("format", "another"),
        ("version", 2),
        ("ed25519", "-----BEGIN"),
        ("p256", None),
        ("handovers", [{"signed": "x"}]),
        ("handovers", 3),
    ],
)
def test_a_key_file_with_a_wrong_part_is_refused(
    lone_app: Flask, name: str, value: object
) -> None:
    publish(lone_app, pack())
    path: Path = lone_app.extensions["depot_key"].path
    path.write_text(json.dumps({**json.loads(path.read_text()), name: value}))
    with pytest.raises(SettingsError, match="damaged"):
        KeyFile(path.parent.parent).load()


def test_two_keys_of_one_kind_are_no_pair(lone_app: Flask) -> None:
    publish(lone_app, pack())
    path: Path = lone_app.extensions["depot_key"].path
    content = json.loads(path.read_text())
    path.write_text(json.dumps({**content, "p256": content["ed25519"]}))
    with pytest.raises(SettingsError, match="p256: another kind"):
        KeyFile(path.parent.parent).load()


@pytest.mark.skipif(os.name != "posix", reason="file modes are of POSIX systems")
@pytest.mark.parametrize("mode", [0o644, 0o640, 0o604])
def test_a_key_file_that_others_may_read_is_refused(lone_app: Flask, mode: int) -> None:
    publish(lone_app, pack())
    path: Path = lone_app.extensions["depot_key"].path
    path.chmod(mode)
    with pytest.raises(SettingsError, match=f"chmod 600 {path}"):
        KeyFile(path.parent.parent).load()
    assert_problem(lone_app.test_client().get("/api/keys"), 503, "signing_key")
    path.chmod(0o600)
    get(lone_app.test_client(), "/api/keys")


def test_a_lost_key_is_not_replaced_in_silence(
    app: Flask, client: FlaskClient, key_path: Path
) -> None:
    publish(app, pack())
    before = get(client, "/api/keys")["key_id"]
    key_path.unlink()
    assert_problem(client.get("/api/index"), 503, "signing_key")
    with pytest.raises(SettingsError, match=f"missing.*{before}.*--lost"):
        renew(app)
    assert not key_path.exists()
    renew(app, lost=True)
    keys = get(client, "/api/keys")
    assert keys["key_id"] != before
    assert keys["handovers"] == []
    verify(keys, get(client, "/api/index"))


def test_an_older_key_file_put_back_is_refused(
    app: Flask, client: FlaskClient, key_path: Path
) -> None:
    publish(app, pack())
    old = key_path.read_text()
    renew(app)
    key_path.write_text(old)
    assert_problem(client.get("/api/index"), 503, "signing_key")


def test_r49_a_renewed_key_is_handed_over_by_each_key_before_it(
    app: Flask, client: FlaskClient
) -> None:
    publish(app, pack())
    seen = [get(client, "/api/keys")]
    text = get(client, "/api/index")["signed"]
    for _ in range(2):
        renew(app)
        seen.append(get(client, "/api/keys"))
    last = seen[-1]
    assert len({keys["key_id"] for keys in seen}) == 3
    for old, new, handover in zip(seen[:-1], seen[1:], last["handovers"], strict=True):
        verify(old, handover)
        said = json.loads(handover["signed"])
        assert (said["format"], said["version"]) == ("step-in-hand/key-handover", 1)
        assert (said["from"], said["to"]) == (old["key_id"], new["key_id"])
        assert (said["ed25519"], said["p256"]) == (new["ed25519"], new["p256"])
    index = get(client, "/api/index")
    verify(last, index)
    assert index["signed"] == text, "a tablet refuses another text under the same serial"


def test_a_key_renewed_by_another_process_is_used_at_once(
    app: Flask, client: FlaskClient, key_path: Path
) -> None:
    """Also when that process died between the key's file and the database."""
    publish(app, pack())
    get(client, "/api/index")
    KeyFile(key_path.parent.parent).renew(NOW)
    keys = get(client, "/api/keys")
    verify(keys, get(client, "/api/index"))
    with app.app_context(), reading() as session:
        assert session.scalars(select(IndexRev.key_id)).all() == [keys["key_id"]]


def test_a_withdrawn_pack_leaves_the_index_and_is_named_with_its_reason(
    app: Flask, client: FlaskClient
) -> None:
    old, new, other = pack(words="old"), pack(words="new"), pack("salt-line")
    for each in (old, new, other):
        publish(app, each)
    assert withdraw(app, "larch-valley", "marks are wrong").serial == 4
    index = get(client, "/api/index")
    verify(get(client, "/api/keys"), index)
    assert [route["key"] for route in index["routes"]] == ["salt-line"]
    assert json.loads(index["signed"])["withdrawn"] == [
        {
            "route": "larch-valley",
            "name": "Larch Valley",
            "packs": sorted([old.sha256, new.sha256]),
            "reason": "marks are wrong",
            "at": "2026-11-25T07:30:00.000000Z",
        }
    ]
    with app.app_context(), reading() as session:
        entry = session.scalars(select(AuditEntry)).one()
        assert (entry.who, entry.what, entry.subject) == (
            "a test",
            "pack.withdrawn",
            "larch-valley",
        )
        assert (entry.old, entry.new) == (
            {"pack": new.sha256},
            {"reason": "marks are wrong"},
        )


def test_publishing_again_brings_that_pack_back_and_no_other(
    app: Flask, client: FlaskClient
) -> None:
    old, new = pack(words="old"), pack(words="new")
    for each in (old, new):
        publish(app, each)
    withdraw(app, "larch-valley")
    publish(app, old)
    inside = json.loads(get(client, "/api/index")["signed"])
    assert [route["pack"] for route in inside["routes"]] == [old.sha256]
    assert [one["packs"] for one in inside["withdrawn"]] == [[new.sha256]]
    publish(app, new)
    assert json.loads(get(client, "/api/index")["signed"])["withdrawn"] == []


def test_what_is_not_published_cannot_be_withdrawn(app: Flask) -> None:
    publish(app, pack())
    with pytest.raises(service.NothingToWithdraw, match=r"salt-line.*larch-valley"):
        withdraw(app, "salt-line")
    withdraw(app, "larch-valley")
    with pytest.raises(service.NothingToWithdraw, match="published: none"):
        withdraw(app, "larch-valley")


def test_a_signature_altered_in_the_store_is_served_and_not_made_good(
    app: Flask, client: FlaskClient
) -> None:
    """The server signs once: tablets, not the server, are the judge of a bad one."""
    publish(app, pack())
    with app.app_context(), writing() as session:
        session.execute(update(IndexRev).values(signed=IndexRev.signed + " "))
    with pytest.raises(InvalidSignature):
        verify(get(client, "/api/keys"), get(client, "/api/index"))


@pytest.fixture
def run(make_app: Callable[..., Flask], tmp_path: Path) -> Callable[..., str]:
    """Run a command on the data folder; give what it printed."""
    from click.testing import CliRunner

    from webapp.commands.cli import cli

    def command(*words: str, code: int = 0) -> str:
        result = CliRunner().invoke(cli, [*words, "--data", str(tmp_path / "data")])
        faults = (SettingsError,)
        if isinstance(result.exception, faults):
            assert code == 2
            return str(result.exception)
        assert result.exit_code == code, (result.output, result.exception)
        return result.output

    return command


def test_the_commands_show_renew_and_withdraw(
    lone_app: Flask, run: Callable[..., str]
) -> None:
    assert "made at the first start" in run("key", "show", code=1)
    publish(lone_app, pack())
    client = lone_app.test_client()
    keys = get(client, "/api/keys")
    shown = run("key", "show")
    assert keys["key_id"] in shown and keys["ed25519"] in shown and "renewed 0" in shown
    assert "PRIVATE" not in shown
    assert "renewed 1" in run("key", "renew")
    assert get(client, "/api/keys")["handovers"][0]["key_id"] == keys["key_id"]
    assert "published: larch-valley" in run(
        "pack", "withdraw", "nowhere", "--reason", "x", code=2
    )
    assert "1 to 200" in run("pack", "withdraw", "larch-valley", "--reason", " ", code=2)
    assert "1 to 200" in run("pack", "withdraw", "larch-valley", "--reason", "x" * 201, code=2)
    assert "index 2" in run("pack", "withdraw", "larch-valley", "--reason", "wrong  marks")
    inside = json.loads(get(client, "/api/index")["signed"])
    assert inside["withdrawn"][0]["reason"] == "wrong marks"


def test_a_damaged_key_stops_the_start_in_words(
    make_app: Callable[..., Flask], run: Callable[..., str], monkeypatch: pytest.MonkeyPatch
) -> None:
    secret = "a secret of this test alone"
    monkeypatch.setenv("STEP_IN_HAND_SECRET_KEY", secret)
    served = make_app(DEMO=False, SECRET_KEY=secret)
    publish(served, pack())
    served.extensions["depot_key"].path.write_text("{")
    assert "half there" in run("serve", "--port", "0", code=2)
    assert "half there" in run("key", "renew", code=2)
