"""The depot's signing key: made here, kept in one file of the data folder, never sent.

One key is a pair, Ed25519 and ECDSA P-256: not every tablet's browser knows the first.
A renewed key carries a hand-over, signed by the key before it, so that tablets follow.
"""

from __future__ import annotations

import base64
import hashlib
import json
import os
import stat
import tempfile
from collections.abc import Callable
from dataclasses import asdict, dataclass
from datetime import datetime
from pathlib import Path
from typing import Any

import rfc8785
from cryptography.hazmat.primitives import hashes
from cryptography.hazmat.primitives import serialization as form
from cryptography.hazmat.primitives.asymmetric import ec, ed25519
from cryptography.hazmat.primitives.asymmetric.utils import decode_dss_signature

from webapp.plain.config import SettingsError
from webapp.plain.jsontext import rfc3339
from webapp.plain.ondisk import sync_folder

KEY_FORMAT = "step-in-hand/signing-key"
HANDOVER_FORMAT = "step-in-hand/key-handover"
P256_BYTES = 32


@dataclass(frozen=True)
class Signed:
    """A text with both signatures under it, base64; `key_id` says whose they are."""

    signed: str
    key_id: str
    sig_ed25519: str
    sig_p256: str


@dataclass(frozen=True)
class DepotKey:
    """The pair of private keys, and how tablets that know an older one come to it."""

    ed25519: ed25519.Ed25519PrivateKey
    p256: ec.EllipticCurvePrivateKey
    made_at: str
    handovers: tuple[Signed, ...] = ()

    @property
    def public(self) -> tuple[bytes, bytes]:
        """Ed25519: 32 bytes. P-256: the uncompressed point, 65 bytes."""
        raw = form.Encoding.Raw, form.PublicFormat.Raw
        point = form.Encoding.X962, form.PublicFormat.UncompressedPoint
        return (
            self.ed25519.public_key().public_bytes(*raw),
            self.p256.public_key().public_bytes(*point),
        )

    @property
    def id(self) -> str:
        return hashlib.sha256(b"".join(self.public)).hexdigest()

    def sign(self, text: str) -> Signed:
        data = text.encode()
        r, s = decode_dss_signature(self.p256.sign(data, ec.ECDSA(hashes.SHA256())))
        # WebCrypto takes r and s one after the other, not the DER form.
        raw = r.to_bytes(P256_BYTES, "big") + s.to_bytes(P256_BYTES, "big")
        return Signed(text, self.id, _base64(self.ed25519.sign(data)), _base64(raw))

    def hand_over(self, new: DepotKey) -> DepotKey:
        """Return the new key with all hand-overs so far and this key's own to it."""
        one, other = new.public
        statement = {
            "format": HANDOVER_FORMAT,
            "version": 1,
            "from": self.id,
            "to": new.id,
            "ed25519": _base64(one),
            "p256": _base64(other),
            "at": new.made_at,
        }
        mine = self.sign(canonical(statement))
        return DepotKey(new.ed25519, new.p256, new.made_at, (*self.handovers, mine))

    def follows(self, key_id: str | None) -> bool:
        """Whether tablets that know `key_id` can come to this key by its hand-overs."""
        return key_id == self.id or key_id in {one.key_id for one in self.handovers}

    def as_served(self) -> dict[str, Any]:
        """Return what anybody may know."""
        one, other = self.public
        return {
            "key_id": self.id,
            "ed25519": _base64(one),
            "p256": _base64(other),
            "handovers": [asdict(each) for each in self.handovers],
        }


def new_key(now: datetime) -> DepotKey:
    one = ed25519.Ed25519PrivateKey.generate()
    return DepotKey(one, ec.generate_private_key(ec.SECP256R1()), rfc3339(now))


class KeyFile:
    """`keys/signing.json` in the data folder, readable by the server's user alone."""

    def __init__(self, data: Path) -> None:
        self.path = data / "keys" / "signing.json"
        self._seen: tuple[object, DepotKey] | None = None

    def load(self) -> DepotKey | None:
        """Read the key, again only when the file is another one; None when there is none.

        Raises
        ------
        SettingsError
            When the file is damaged, or others may read it.
        """
        try:
            found = self.path.stat()
        except FileNotFoundError:
            return None
        mark = (found.st_mtime_ns, found.st_size, found.st_ino, found.st_mode)
        if self._seen is None or self._seen[0] != mark:
            if os.name == "posix" and stat.S_IMODE(found.st_mode) & 0o077:
                raise SettingsError(
                    f"{self.path}: other users of this machine may read the signing key. "
                    f"Type: chmod 600 {self.path}"
                )
            self._seen = (mark, self._read())
        return self._seen[1]

    def make(self, now: datetime) -> DepotKey:
        """Make the first key; when another process was quicker, its key is the one."""
        self._write(new_key(now), os.link)
        made = self.load()
        assert made is not None
        return made

    def renew(self, now: datetime, *, lost: bool = False) -> DepotKey:
        """Put a new key in the old one's place; `lost`: there is no old one to sign for it."""
        old = None if lost else self.load()
        new = new_key(now)
        self._write(old.hand_over(new) if old else new, os.replace)
        made = self.load()
        assert made is not None
        return made

    def _write(self, key: DepotKey, place: Callable[[str, Path], None]) -> None:
        """Write beside, then put in place in one step: the file is whole or not there."""
        self.path.parent.mkdir(mode=0o700, parents=True, exist_ok=True)
        handle, name = tempfile.mkstemp(dir=self.path.parent)  # mkstemp gives mode 0600
        try:
            with os.fdopen(handle, "w", encoding="utf-8") as file:
                file.write(_text(key))
                file.flush()
                os.fsync(file.fileno())
            try:
                place(name, self.path)
            except FileExistsError:
                return
            sync_folder(self.path.parent)
            # A folder made just now has its own name in the one above.
            sync_folder(self.path.parent.parent)
        finally:
            Path(name).unlink(missing_ok=True)

    def _read(self) -> DepotKey:
        try:
            return _parsed(json.loads(self.path.read_text("utf-8")))
        except (ValueError, TypeError, KeyError, AttributeError) as error:
            raise SettingsError(
                f"{self.path}: the signing key is damaged or only half there ({error}). "
                "Put the file back from its backup. If there is none, type "
                "step-in-hand key renew --lost; every tablet must then be enrolled again."
            ) from error


def canonical(content: Any) -> str:
    """Write JSON in the one form of RFC 8785: this text is what is signed."""
    return rfc8785.dumps(content).decode()


def _text(key: DepotKey) -> str:
    plain = form.Encoding.PEM, form.PrivateFormat.PKCS8, form.NoEncryption()
    content = {
        "format": KEY_FORMAT,
        "version": 1,
        "made_at": key.made_at,
        "ed25519": key.ed25519.private_bytes(*plain).decode(),
        "p256": key.p256.private_bytes(*plain).decode(),
        "handovers": [asdict(one) for one in key.handovers],
    }
    return json.dumps(content, indent=1)


def _parsed(content: Any) -> DepotKey:
    if content["format"] != KEY_FORMAT or content["version"] != 1:
        raise ValueError("not a signing key of a kind this version knows")
    pair = [
        form.load_pem_private_key(content[name].encode(), None) for name in ("ed25519", "p256")
    ]
    one, other = pair
    if not isinstance(one, ed25519.Ed25519PrivateKey):
        raise ValueError("ed25519: another kind of key")
    if not isinstance(other, ec.EllipticCurvePrivateKey) or other.curve.name != "secp256r1":
        raise ValueError("p256: another kind of key")
    handovers = tuple(Signed(**each) for each in content["handovers"])
    return DepotKey(one, other, str(content["made_at"]), handovers)


def _base64(data: bytes) -> str:
    return base64.b64encode(data).decode()
