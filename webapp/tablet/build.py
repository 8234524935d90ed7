"""Read the app's files once, name the build by their content, keep the build before it."""

from __future__ import annotations

import hashlib
import json
import os
import re
import shutil
import tempfile
from dataclasses import dataclass
from pathlib import Path

from webapp.plain import ondisk
from webapp.plain.config import SettingsError
from webapp.tablet.bundle import bundle, sheet
from webapp.web.stored import Stored, store

MEDIA_TYPES = {
    ".css": "text/css; charset=utf-8",
    ".html": "text/html; charset=utf-8",
    ".ico": "image/x-icon",
    ".jpg": "image/jpeg",
    ".js": "text/javascript; charset=utf-8",
    ".json": "application/json",
    ".mjs": "text/javascript; charset=utf-8",
    ".png": "image/png",
    ".svg": "image/svg+xml",
    ".txt": "text/plain; charset=utf-8",
    ".webmanifest": "application/manifest+json",
    ".webp": "image/webp",
    ".woff2": "font/woff2",
}
ALREADY_PACKED = frozenset({".jpg", ".png", ".webp", ".woff2"})
PAGE, WORKER, MANIFEST = "index.html", "sw.js", "manifest.webmanifest"
WORKER_OFF = "sw-off.js"
#: The ride along, in a demo's app and in no other: its page, its script, its folder.
RIDE_PAGE, RIDE_SCRIPT, RIDE_FOLDER = "ride.html", "ride.js", "ride/"
AT_THE_ROOT = (PAGE, WORKER, WORKER_OFF, MANIFEST, RIDE_PAGE)
OFF_MARK = "shell-off"
BUILD_TOKEN = b"__BUILD__"
LIST_TOKEN = b'["__PRECACHE__"]'
#: In static/ one module and one sheet; as served all that they import is in them.
SCRIPT, SHEET = "app.js", "app.css"
#: A script or a sheet that the page itself names. Of others a tablet has no need.
NAMED = re.compile(rb"/app/__BUILD__/([\w/-]+\.(?:js|css))\"")
MADE = frozenset({".js", ".css"})
BUILD_DIGITS = 16
BUILDS_KEPT = 2


@dataclass(frozen=True)
class Build:
    """
    One version of the app. `files` live under /app/<id>/, `root` at fixed addresses.

    `source` is what both were made from, script and sheet already with all that they import.
    Tablets keep the files that the worker lists. A module by itself can be read at its
    address, as it was written, and is not kept.
    """

    id: str
    files: dict[str, Stored]
    root: dict[str, Stored]
    source: dict[str, bytes]


@dataclass(frozen=True)
class Shell:
    """The build that new visitors get, and the builds that open pages may still ask for."""

    current: Build
    builds: dict[str, Build]


def switch(data: Path, on: bool) -> None:
    """Let tablets keep the app's files, or take them back; a running server obeys at once."""
    mark = data / OFF_MARK
    if on:
        mark.unlink(missing_ok=True)
    else:
        data.mkdir(parents=True, exist_ok=True)
        mark.touch()


def worker_name(data: Path) -> str:
    """Return the worker that tablets get: the app's own, or the one that takes it away."""
    return WORKER_OFF if (data / OFF_MARK).exists() else WORKER


def find_static() -> Path:
    """Return the app's folder: inside an installed wheel, or beside the code in a checkout."""
    here = Path(__file__).resolve().parents[1]
    for root in (here / "_static", here.parent / "static"):
        if root.is_dir():
            return root
    raise SettingsError(
        f"the tablet app is missing: no folder {here / '_static'} and no "
        f"{here.parent / 'static'}. Install the package again."
    )


def read_build(root: Path, *, demo: bool = False) -> Build:
    """Read the app's folder, make its script and its sheet; what is wrong stops the start.

    A demo's app is another build: it says on every page, also offline, what it is, and it
    alone has the ride along.
    """
    source = _read(root)
    if demo and PAGE in source:
        source[PAGE] = source[PAGE].replace(b"<html ", b"<html data-demo ", 1)
    if not demo:
        source = {name: content for name, content in source.items() if not _of_ride(name)}
    for name, made in ((SCRIPT, bundle), (SHEET, sheet), (RIDE_SCRIPT, bundle)):
        if name in source:
            source[name] = made(source, name)
    return make_build(source)


def _of_ride(name: str) -> bool:
    return name in {RIDE_PAGE, RIDE_SCRIPT} or name.startswith(RIDE_FOLDER)


def read_kept(folder: Path) -> Build:
    """Read a build as it was written down: script and sheet are not made again."""
    return make_build(_read(folder))


def _read(root: Path) -> dict[str, bytes]:
    """Read every file; one of unknown kind stops the start, not the tablet."""
    source = {}
    for path in sorted(root.rglob("*")):
        name = path.relative_to(root).as_posix()
        if not path.is_file() or any(part.startswith(".") for part in Path(name).parts):
            continue
        if path.suffix == ".md":  # notes for developers
            continue
        if path.suffix not in MEDIA_TYPES:
            raise SettingsError(
                f"{path}: the server does not know the media type of {path.suffix!r}. "
                "Add it to MEDIA_TYPES in webapp/tablet/build.py."
            )
        source[name] = path.read_bytes()
    return source


def make_build(source: dict[str, bytes]) -> Build:
    """Name the build by its content and put that name where the app asks for it."""
    identity = hashlib.sha256()
    for name, content in sorted(source.items()):
        identity.update(f"{name}\0{len(content)}\0".encode() + content)
    build_id = identity.hexdigest()[:BUILD_DIGITS]
    files = {
        name: _store(name, content)
        for name, content in source.items()
        if name not in AT_THE_ROOT
    }
    pages = b"".join(source.get(name, b"") for name in (PAGE, RIDE_PAGE))
    named = {name.decode() for name in NAMED.findall(pages)}
    held = sorted(name for name in files if name in named or Path(name).suffix not in MADE)
    ride = ["/ride"] if RIDE_PAGE in source else []
    addresses = ["/", *ride, *(f"/app/{build_id}/{name}" for name in held)]
    tokens = {
        LIST_TOKEN: json.dumps(addresses).encode(),
        BUILD_TOKEN: build_id.encode(),
    }
    root = {
        name: _store(name, _filled(source[name], tokens))
        for name in AT_THE_ROOT
        if name in source
    }
    return Build(build_id, files, root, source)


def _filled(content: bytes, tokens: dict[bytes, bytes]) -> bytes:
    for token, value in tokens.items():
        content = content.replace(token, value)
    return content


def with_former(current: Build, folder: Path) -> Shell:
    """Keep this build on disk and load the one before: open pages still ask for its files."""
    _write_once(current, folder / current.id)
    newest_first = sorted(
        (path for path in folder.iterdir() if len(path.name) == BUILD_DIGITS),
        key=lambda path: path.stat().st_mtime_ns,
        reverse=True,
    )
    for old in newest_first[BUILDS_KEPT:]:
        shutil.rmtree(old, ignore_errors=True)
    builds = {current.id: current}
    for path in newest_first[:BUILDS_KEPT]:
        former = read_kept(path)
        if former.id == path.name:  # half-deleted or edited: its name no longer fits
            builds.setdefault(former.id, former)
    return Shell(current, builds)


def _write_once(build: Build, target: Path) -> None:
    target.parent.mkdir(parents=True, exist_ok=True)
    if not target.is_dir():
        half = Path(tempfile.mkdtemp(prefix=".new-", dir=target.parent))
        for name, content in build.source.items():
            (half / name).parent.mkdir(parents=True, exist_ok=True)
            ondisk.write(half / name, content)
        for folder in (half, *(path for path in half.rglob("*") if path.is_dir())):
            ondisk.sync_folder(folder)
        try:
            # Only now: a name that outlives a power cut must not stand for empty files.
            half.rename(target)
            ondisk.sync_folder(target.parent)
        except OSError:  # another process was quicker with the same build
            shutil.rmtree(half, ignore_errors=True)
    os.utime(target)


def _store(name: str, content: bytes) -> Stored:
    suffix = Path(name).suffix
    return store(content, MEDIA_TYPES[suffix], compress=suffix not in ALREADY_PACKED)
