"""A tiny pack with the shape that publishing asks for, without any physics."""

from __future__ import annotations

import gzip
import hashlib
import json
from dataclasses import dataclass


@dataclass(frozen=True)
class FakeFile:
    kind: str
    sha256: str
    size: int
    gz: bytes


@dataclass(frozen=True)
class FakePack:
    route: str
    name: str
    sha256: str
    files: tuple[FakeFile, ...]


def file(kind: str, content: object) -> FakeFile:
    plain = json.dumps(content).encode()
    sha = hashlib.sha256(plain).hexdigest()
    return FakeFile(kind, sha, len(plain), gzip.compress(plain, mtime=0))


def pack(route: str = "larch-valley", words: str = "first") -> FakePack:
    base = file("base", {"route": route, "words": words, "filler": "x" * 2000})
    named = {"kind": base.kind, "sha256": base.sha256, "bytes": base.size}
    manifest = file("manifest", {"route": route, "files": [named]})
    return FakePack(route, route.replace("-", " ").title(), manifest.sha256, (manifest, base))
