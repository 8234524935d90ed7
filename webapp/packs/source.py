"""The normalised source of a pack: the route's files and the register laid over them.

One canonical JSON file, named by its hash in the pack's manifest and kept at the depot, so
that any pack can be built again, by this release or a later one. Tablets do not fetch it.
"""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any

from webapp.packs.files import PackFile, pack_file

Json = dict[str, Any]
FORMAT = "step-in-hand/source"
KIND = "source"
#: What a route is written in; other files of the folder are not part of it.
ENDINGS = (".csv", ".toml", ".geojson")
#: More than any line's files together. [bytes]
LARGEST = 4 * 1024 * 1024


class NotASource(ValueError):
    """What was given is no source of a pack, or too large for one."""


def source_file(folder: Path, register: Sequence[Mapping[str, Any]]) -> PackFile:
    """Freeze a checked route folder and the register laid over it."""
    files = {
        path.name: normalised(path.read_bytes())
        for path in sorted(folder.iterdir())
        if path.suffix in ENDINGS and path.is_file()
    }
    content = {
        "format": FORMAT,
        "version": 1,
        "files": files,
        "register": [dict(entry) for entry in register],
    }
    return pack_file(KIND, KIND, content)


def normalised(raw: bytes) -> str:
    """Return a file's text without what its editor added: byte order mark, line ends."""
    return raw.decode("utf-8-sig").replace("\r\n", "\n").replace("\r", "\n")


def write_source(content: Json, folder: Path) -> list[Json]:
    """Write a source's files into an empty folder and return its register.

    Raises
    ------
    NotASource
        If it is of another format, or names a file outside the folder.
    """
    if content.get("format") != FORMAT or content.get("version") != 1:
        raise NotASource("this is not the source of a pack that this version knows")
    for name, text in content["files"].items():
        if Path(name).name != name or not name.endswith(ENDINGS):
            raise NotASource(f"'{name}' is no file of a route")
        (folder / name).write_text(text, "utf-8", newline="\n")
    return list(content["register"])


def freeze(content: Json) -> PackFile:
    """Freeze a source that was read from the store."""
    return pack_file(KIND, KIND, json.loads(json.dumps(content)))
