"""The signed index as a real browser judges it: R49, both algorithms.

Keys and signatures come from an independent library (Python's cryptography); nothing of
the server's own signing code is used here.
"""

from __future__ import annotations

import base64
import hashlib
import json
from collections.abc import Iterator
from typing import Any

import pytest
from cryptography.hazmat.primitives import hashes
from cryptography.hazmat.primitives.asymmetric import ec, ed25519
from cryptography.hazmat.primitives.asymmetric.utils import decode_dss_signature
from cryptography.hazmat.primitives.serialization import Encoding, PublicFormat
from playwright.sync_api import Playwright

from tests.browser.packs import Modules
from tests.browser.tablet import Tablet
from tests.support.server import Server

SHA = "a" * 64
PLANTED = "planted"
NO_ED25519 = """
const real = SubtleCrypto.prototype.importKey;
SubtleCrypto.prototype.importKey = function (format, data, how, ...rest) {
    const name = how?.name ?? how;
    window.asked = [...(window.asked ?? []), name];
    if (name === "Ed25519") {
        return Promise.reject(new DOMException("planted", "NotSupportedError"));
    }
    return real.call(this, format, data, how, ...rest);
};
"""


def b64(data: bytes) -> str:
    return base64.b64encode(data).decode()


class Key:
    """A depot's key pair, made and used by the library alone."""

    def __init__(self) -> None:
        self._one = ed25519.Ed25519PrivateKey.generate()
        self._other = ec.generate_private_key(ec.SECP256R1())
        raw = self._one.public_key().public_bytes(Encoding.Raw, PublicFormat.Raw)
        point = self._other.public_key().public_bytes(
            Encoding.X962, PublicFormat.UncompressedPoint
        )
        self.id = hashlib.sha256(raw + point).hexdigest()
        self.public = {"key_id": self.id, "ed25519": b64(raw), "p256": b64(point)}

    def sign(self, content: Any) -> dict[str, str]:
        text = content if isinstance(content, str) else json.dumps(content)
        r, s = decode_dss_signature(self._other.sign(text.encode(), ec.ECDSA(hashes.SHA256())))
        return {
            "signed": text,
            "key_id": self.id,
            "sig_ed25519": b64(self._one.sign(text.encode())),
            "sig_p256": b64(r.to_bytes(32, "big") + s.to_bytes(32, "big")),
        }

    def hand_over(self, new: Key, **change: Any) -> dict[str, str]:
        public = {"ed25519": new.public["ed25519"], "p256": new.public["p256"]}
        statement = {"format": "step-in-hand/key-handover", "version": 1, "from": self.id}
        return self.sign({**statement, "to": new.id, **public, "at": "x", **change})

    def served(self, *handovers: dict[str, str]) -> dict[str, Any]:
        return {**self.public, "handovers": list(handovers)}


def index(serial: int, **change: Any) -> dict[str, Any]:
    routes = [{"key": "one", "name": "One", "pack": SHA, "bytes": 1, "gz_bytes": 1}]
    head = {"format": "step-in-hand/index", "version": 1, "serial": serial}
    return {**head, "published_at": None, "routes": routes, "withdrawn": [], **change}


class Judge:
    """A tablet that is handed indexes; `take` gives "taken" or why it was refused."""

    def __init__(self, modules: Modules, algorithm: str) -> None:
        self.modules = modules
        self.algorithm = algorithm

    def take(self, body: Any, keys: Any = None) -> str:
        said: str = self.modules.run(
            """(m, body, keys) => m.takeIndex(body, async () => keys).then(
                () => "taken", (error) => error.why ?? String(error))""",
            body,
            keys,
        )
        return said

    def held(self) -> Any:
        return self.modules.run(
            """(m) => m.raw(["kv"], "readonly", async (tx, done) => [
                (await done(tx.objectStore("kv").get("depot_key")))?.id,
                (await done(tx.objectStore("kv").get("index")))?.serial])"""
        )


@pytest.fixture(scope="module", params=["Ed25519", "P-256"])
def one_judge(
    request: pytest.FixtureRequest,
    engine: Playwright,
    tmp_path_factory: pytest.TempPathFactory,
) -> Iterator[Judge]:
    """One browser for all tests here: starting one takes longer than they do."""
    tablet = Tablet(engine, tmp_path_factory.mktemp("profile")).start()
    if request.param == "P-256":
        tablet.context.add_init_script(NO_ED25519)
    with Server(tmp_path_factory.mktemp("data")) as server:
        yield Judge(Modules(tablet, server), request.param)
        tablet.close()
    # What a test plants in the whole page, the page around the module under test hits too.
    assert [error for error in tablet.errors if error != PLANTED] == []


@pytest.fixture
def judge(one_judge: Judge) -> Judge:
    """A tablet that never met a depot."""
    one_judge.modules.wipe()
    return one_judge


def test_r49_examples_of_the_standards_are_verified(judge: Judge):
    """RFC 8032, 7.1, test 2; RFC 6979, A.2.5, SHA-256 of "sample". Both from memory.

    Right all the same: a wrong digit would not verify, here or in the library.
    """
    public = "3d4017c3e843895a92b70aa74d1b7ebc9c982ccf2ec4968cc0cd55f12af4660c"
    signature = (
        "92a009a9f0d4cab8720e820b5f642540a2b27b5416503f8fb3762223ebdb69da"
        "085ac1e43e15996e458f3613d0f11d8c387b2eaeb4302aeeb00d291612bb0c00"
    )
    point = (
        "0460fed4ba255a9d31c961eb74c6356d68c049b8923b61fa6ce669622e60f29fb6"
        "7903fe1008b8bc99a41ae9e95628bc64f2f1b20c2d7e9f5177a3c294d4462299"
    )
    sample = (
        "efd48b2aacb6a8fd1140dd9cd45e81d69d2c877b56aaf991c34d0ea84eaf3716"
        "f7cb1c942d657c41d436c7a1b6e29f65f3e900dbb9aff4064dc4ab2f843acda8"
    )

    def fits(name: str, key: str, signed: str, text: str) -> bool:
        said: bool = judge.modules.run(
            """(m, name, key, signature, text) =>
                m[name](key, signature, new TextEncoder().encode(text))""",
            name,
            b64(bytes.fromhex(key)),
            b64(bytes.fromhex(signed)),
            text,
        )
        return said

    assert fits("fitsP256", point, sample, "sample")
    assert not fits("fitsP256", point, sample, "sampled")
    if judge.algorithm == "Ed25519":
        assert fits("fitsEd25519", public, signature, "r")
        assert not fits("fitsEd25519", public, signature, "s")


def test_r49_the_browser_uses_the_algorithm_it_has(judge: Judge):
    """Only the signature of that algorithm counts: the other may even be wrong."""
    key = Key()
    good = key.sign(index(1))
    wrong = b64(bytes(64))
    other = {"Ed25519": "sig_p256", "P-256": "sig_ed25519"}[judge.algorithm]
    own = {"Ed25519": "sig_ed25519", "P-256": "sig_p256"}[judge.algorithm]
    assert judge.take({**good, own: wrong}, key.served()) == "altered"
    assert judge.held() == [None, None], "a refused index pins no key"
    assert judge.take({**good, other: wrong}, key.served()) == "taken"
    assert judge.held() == [key.id, 1]
    if judge.algorithm == "P-256":
        asked = judge.modules.page.evaluate("() => window.asked")
        assert "Ed25519" in asked, "it was tried"


def test_r49_an_unsigned_index_is_refused(judge: Judge):
    key = Key()
    assert judge.take(key.sign(index(1)), key.served()) == "taken"
    for part in ("signed", "key_id", "sig_ed25519", "sig_p256"):
        for what in (None, "", 7):
            body: dict[str, Any] = {**key.sign(index(2)), part: what}
            assert judge.take(body, key.served()) == "unsigned", (part, what)
        del body[part]
        assert judge.take(body, key.served()) == "unsigned", part
    assert judge.take({"serial": 2, "routes": []}, key.served()) == "unsigned"
    assert judge.held() == [key.id, 1]


def test_r49_any_altered_letter_of_the_index_is_refused(judge: Judge):
    key = Key()
    assert judge.take(key.sign(index(1)), key.served()) == "taken"
    good = key.sign(index(2))
    text = good["signed"]
    for at in range(len(text)):
        changed = text[:at] + chr(ord(text[at]) ^ 1) + text[at + 1 :]
        assert judge.take({**good, "signed": changed}) == "altered", changed
    assert judge.take({**good, "signed": text + " "}) == "altered"
    assert judge.held() == [key.id, 1]
    assert judge.take(good) == "taken"


def test_r49_any_altered_byte_of_the_signature_is_refused(judge: Judge):
    key = Key()
    assert judge.take(key.sign(index(1)), key.served()) == "taken"
    good = key.sign(index(2))
    own = {"Ed25519": "sig_ed25519", "P-256": "sig_p256"}[judge.algorithm]
    raw = base64.b64decode(good[own])
    for at in range(64):
        changed = raw[:at] + bytes([raw[at] ^ 1]) + raw[at + 1 :]
        assert judge.take({**good, own: b64(changed)}) == "altered", at
    for other in (raw[:-1], raw + b"0", b"0"):
        assert judge.take({**good, own: b64(other)}) == "altered"
    assert judge.take({**good, own: "not base64!"}) == "altered"
    assert judge.take(good) == "taken"


def test_r49_another_key_is_refused(judge: Judge):
    key, stranger = Key(), Key()
    assert judge.take(key.sign(index(1)), key.served()) == "taken"
    forged = stranger.sign(index(2))
    assert judge.take(forged, stranger.served()) == "wrongKey"
    assert judge.take({**forged, "key_id": key.id}, stranger.served()) == "altered"
    # A stranger cannot hand over to himself in the depot's name.
    claimed = {**stranger.hand_over(stranger, **{"from": key.id}), "key_id": key.id}
    assert judge.take(forged, stranger.served(claimed)) == "wrongKey"
    for served in (None, {}, {"handovers": "x"}, {"handovers": [None, 3, {}]}):
        assert judge.take(forged, served) == "wrongKey"
    assert judge.held() == [key.id, 1]


def test_r49_at_first_contact_the_key_must_be_the_one_it_is_named(judge: Judge):
    key, stranger = Key(), Key()
    good = key.sign(index(1))
    for served in (None, {}, stranger.served(), {**stranger.served(), "key_id": key.id}):
        assert judge.take(good, served) == "wrongKey"
    assert judge.held() == [None, None]
    assert judge.take(good, key.served()) == "taken"


def test_r49_an_older_index_is_refused(judge: Judge):
    key = Key()
    former, now = key.sign(index(4)), key.sign(index(5))
    assert judge.take(former, key.served()) == "taken"
    assert judge.take(now) == "taken"
    assert judge.take(former) == "older"
    assert judge.take(key.sign(index(5, routes=[]))) == "older"
    assert judge.held() == [key.id, 5]
    assert judge.take(now) == "taken"
    judge.modules.afresh()
    assert judge.take(former) == "older", "also after the tablet was started again"


def test_r49_a_renewed_key_is_followed_over_every_hand_over(judge: Judge):
    first, second, third = Key(), Key(), Key()
    text = index(1)
    assert judge.take(first.sign(text), first.served()) == "taken"
    chain = [first.hand_over(second), second.hand_over(third)]
    # The same text under the renewed key: nothing was published in between.
    assert judge.take(third.sign(text), third.served(*chain)) == "taken"
    assert judge.held() == [third.id, 1]
    assert judge.take(first.sign(index(2)), first.served()) == "wrongKey", "gone is gone"
    assert judge.take(third.sign(index(2)), None) == "taken"


def test_r49_a_broken_chain_of_hand_overs_is_refused(judge: Judge):
    first, second, third, stranger = Key(), Key(), Key(), Key()
    assert judge.take(first.sign(index(1)), first.served()) == "taken"
    new = third.sign(index(2))
    one, two = first.hand_over(second), second.hand_over(third)
    forged = {**stranger.hand_over(third, **{"from": first.id}), "key_id": first.id}
    chains = {
        "a link is missing": [two],
        "the end is missing": [one],
        "a stranger signed": [forged],
        "a letter was changed": [{**one, "signed": one["signed"] + " "}, two],
        "it names other keys": [first.hand_over(third, ed25519=stranger.public["ed25519"])],
        "it is from another": [first.hand_over(third, **{"from": second.id})],
        "a ring": [first.hand_over(second), second.hand_over(first)],
    }
    for why, chain in chains.items():
        assert judge.take(new, third.served(*chain)) == "wrongKey", why
    assert judge.held() == [first.id, 1]
    assert judge.take(new, third.served(one, two)) == "taken"


def test_r49_a_signed_text_that_is_no_index_is_refused(judge: Judge):
    key = Key()
    assert judge.take(key.sign(index(1)), key.served()) == "taken"
    for text in (
        "<html>",
        index(2, version=2),
        index(2, format="x"),
        index(2, routes=[{"key": "one", "pack": "../x"}]),
        {**index(2), "serial": "9"},
    ):
        assert judge.take(key.sign(text)) == "unreadable", text
    assert judge.held() == [key.id, 1]


def test_r49_key_and_serial_are_kept_in_one_step(judge: Judge):
    """Each call to storage in turn is the last one: never a key without its index."""
    key = Key()
    good = key.sign(index(1))
    n = 0
    while True:
        n += 1
        judge.modules.wipe()
        judge.modules.run(
            """(m, n) => {
                let count = 0;
                window.hit = false;
                for (const name of ["get", "put"]) {
                    const real = IDBObjectStore.prototype[name];
                    IDBObjectStore.prototype[name] = function (...args) {
                        count += 1;
                        if (count < n) return real.apply(this, args);
                        window.hit = true;
                        try { this.transaction.abort(); } catch {}
                        throw new DOMException("planted");
                    };
                }
            }""",
            n,
        )
        judge.take(good, key.served())
        hit = judge.modules.page.evaluate("() => window.hit")
        judge.modules.afresh()
        assert judge.held() in ([None, None], [key.id, 1]), n
        assert judge.take(good, key.served()) == "taken", n
        if not hit:
            break
    assert n > 4


def test_a_tablet_pinned_by_enrolment_takes_no_other_key_at_first_contact(judge: Judge):
    key, stranger = Key(), Key()
    judge.modules.run(
        "(m, key) => m.raw(['kv'], 'readwrite', (tx) => m.pinKey(tx, key))",
        {"id": key.id, "ed25519": key.public["ed25519"], "p256": key.public["p256"]},
    )
    assert judge.take(stranger.sign(index(1)), stranger.served()) == "wrongKey"
    assert judge.take(key.sign(index(1))) == "taken"
