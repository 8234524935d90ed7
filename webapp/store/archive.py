"""The backup's file: a zip of a few known members, each named with its sha-256.

`manifest.json` says what is inside and how many rows each table has, so that a copy can be
held against it. Nothing else is ever unpacked.
"""

from __future__ import annotations

import hashlib
import json
import zipfile
import zlib
from collections.abc import Mapping
from dataclasses import asdict, dataclass
from pathlib import Path
from typing import IO, Any

FORMAT, VERSION = "step-in-hand/backup", 1
MANIFEST = "manifest.json"
SQLITE, POSTGRESQL = "database.sqlite3", "database.pgdump"
KEY = "keys/signing.json"
# Small files of the data folder that say how the depot is run; secrets are not among them.
# The last two hold what no older copy of the database may take back.
KEPT = ("depot/numbers.json", "depot/removed.txt")
BESIDE = ("shell-off", "demo-packs.json", *KEPT)
MEMBERS = frozenset({SQLITE, POSTGRESQL, KEY, *BESIDE})
PIECE = 1024 * 1024
# Reports are words: the first level packs nearly as well and is four times as quick.
LEVEL = 1


class NotWhole(Exception):
    """The file cannot be restored from; the text says what is wrong and what to do."""


@dataclass(frozen=True)
class Manifest:
    """What a backup holds: when and by which version it was made, its rows and files."""

    made_at: str
    program: str
    revision: str
    counts: dict[str, int]
    files: dict[str, dict[str, Any]]

    @property
    def database(self) -> str:
        return SQLITE if SQLITE in self.files else POSTGRESQL


def write(
    target: Path, members: Mapping[str, Path], made_at: str, program: str, rows: Rows
) -> None:
    """Write the zip; the caller gives it its name only when it is whole."""
    files: dict[str, dict[str, Any]] = {}
    with zipfile.ZipFile(target, "w", zipfile.ZIP_DEFLATED, compresslevel=LEVEL) as packed:
        for name, path in members.items():
            with (
                path.open("rb") as source,
                packed.open(name, "w", force_zip64=True) as member,
            ):
                files[name] = _copy(source, member)
        manifest = Manifest(made_at, program, rows.revision, rows.counts, files)
        text = json.dumps({"format": FORMAT, "version": VERSION, **asdict(manifest)}, indent=1)
        packed.writestr(MANIFEST, text)


@dataclass(frozen=True)
class Rows:
    """What a database was found to hold."""

    revision: str
    counts: dict[str, int]


def manifest_of(file: Path) -> Manifest:
    """Read what a backup says of itself.

    Raises
    ------
    NotWhole
        If it is none, was cut short, or comes from a newer version.
    """
    try:
        with zipfile.ZipFile(file) as packed:
            said = json.loads(packed.read(MANIFEST))
        if said["format"] != FORMAT:
            raise KeyError("format")
        if said["version"] != VERSION:
            raise NotWhole(
                f"{file}: written by a newer version ({said['program']}). Install that one."
            )
        manifest = Manifest(
            *(said[name] for name in ("made_at", "program", "revision", "counts", "files"))
        )
        unknown = set(manifest.files) - MEMBERS
        databases = {SQLITE, POSTGRESQL} & set(manifest.files)
    except (zipfile.BadZipFile, zlib.error, KeyError, TypeError, ValueError, EOFError) as why:
        raise NotWhole(
            f"{file}: not a backup of Step in Hand, or only a part of one. Take another."
        ) from why
    if unknown or len(databases) != 1:
        raise NotWhole(f"{file}: holds what a backup does not hold. Take another.")
    return manifest


def unpack(file: Path, manifest: Manifest, folder: Path) -> None:
    """Unpack every member into an empty folder and hold each against its sha-256.

    Raises
    ------
    NotWhole
        If a member is missing or is not what the manifest says.
    """
    with zipfile.ZipFile(file) as packed:
        for name, told in manifest.files.items():
            path = folder / name
            path.parent.mkdir(mode=0o700, parents=True, exist_ok=True)
            path.touch(mode=0o600)
            try:
                with packed.open(name) as member, path.open("wb") as target:
                    found = _copy(member, target)
            except (zipfile.BadZipFile, zlib.error, KeyError, EOFError) as why:
                raise NotWhole(f"{file}: {name} is damaged. Take another backup.") from why
            if found != told:
                raise NotWhole(f"{file}: {name} is not what was backed up. Take another.")


def _copy(source: IO[bytes], target: IO[bytes]) -> dict[str, Any]:
    digest, size = hashlib.sha256(), 0
    while piece := source.read(PIECE):
        digest.update(piece)
        size += len(piece)
        target.write(piece)
    return {"sha256": digest.hexdigest(), "bytes": size}
