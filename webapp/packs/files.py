"""Pack files: canonical bytes, named by their own hash, stored compressed."""

from __future__ import annotations

import gzip
import hashlib
from dataclasses import dataclass
from typing import Any

import rfc8785

#: A tablet fetches each file whole; a larger one would be lost on a poor signal. [bytes]
LARGEST = 256 * 1024


class PackTooLarge(ValueError):
    """A file of the pack would not reach a tablet in one piece."""


@dataclass(frozen=True)
class PackFile:
    """One immutable file: what it is, its hash, its size and its stored bytes."""

    kind: str
    name: str
    sha256: str
    size: int
    gz: bytes

    @property
    def content(self) -> bytes:
        return gzip.decompress(self.gz)

    def entry(self) -> dict[str, Any]:
        """Return the file's line in the manifest."""
        return {
            "kind": self.kind,
            "name": self.name,
            "sha256": self.sha256,
            "bytes": self.size,
            "gz_bytes": len(self.gz),
        }


@dataclass(frozen=True)
class Pack:
    """A whole pack; its name is the hash of its manifest, which is the last file."""

    route: str
    name: str
    sha256: str
    files: tuple[PackFile, ...]
    #: Kept at the depot and named in the manifest; None: the pack was built without one.
    source: PackFile | None = None

    @property
    def size(self) -> int:
        return sum(file.size for file in self.files)

    @property
    def gz_size(self) -> int:
        return sum(len(file.gz) for file in self.files)

    def file(self, name: str) -> PackFile:
        return next(file for file in self.files if file.name == name)


def pack_file(kind: str, name: str, content: dict[str, Any]) -> PackFile:
    """Freeze one file. The same content always gives the same bytes and hash.

    Raises
    ------
    PackTooLarge
        If the stored bytes are more than a tablet should fetch at once.
    """
    raw = rfc8785.dumps(content)
    stored = gzip.compress(raw, compresslevel=9, mtime=0)
    if len(stored) > LARGEST:
        raise PackTooLarge(
            f"{name} is {len(stored)} bytes compressed, more than {LARGEST}:"
            " take trains, stops or landmarks out of the route"
        )
    return PackFile(kind, name, hashlib.sha256(raw).hexdigest(), len(raw), stored)


def close_pack(
    route: str, name: str, files: list[PackFile], source: PackFile | None = None
) -> Pack:
    """Add the manifest, which names the pack; the source is named but no file of the pack."""
    content: dict[str, Any] = {
        "format": "step-in-hand/manifest",
        "version": 1,
        "route": route,
        "name": name,
        "files": [file.entry() for file in files],
    }
    if source is not None:
        content["source"] = source.sha256
    manifest = pack_file("manifest", "manifest", content)
    return Pack(route, name, manifest.sha256, (*files, manifest), source)
