"""The lines as their packs in use know them, and places as their posts count them."""

from __future__ import annotations

import gzip
import json
from collections.abc import Iterable
from typing import Any

from sqlalchemy import select
from sqlalchemy.orm import Session

from webapp.lines.base import Base
from webapp.lines.rows import IndexRev, PackFile

Json = dict[str, Any]


# Parts of packs that stay in memory: a page asks for the same few again and again.
MOST_HELD = 24
_held: dict[tuple[str, str], Json] = {}
_bases: dict[str, Base] = {}


def routes(session: Session) -> list[Json]:
    """Return the packs in use as the newest index names them: key, name, pack of each line."""
    newest = select(IndexRev.routes).order_by(IndexRev.serial.desc()).limit(1)
    return list(session.scalars(newest).first() or [])


def withdrawn(session: Session, pack: str) -> Json | None:
    """Return the entry of the newest index that takes a pack back; None where none does."""
    newest = select(IndexRev.withdrawn).order_by(IndexRev.serial.desc()).limit(1)
    entries: list[Json] = session.scalars(newest).first() or []
    return next((one for one in entries if pack in one["packs"]), None)


def packs(session: Session) -> dict[str, str]:
    """Return the name of the pack in use, by line."""
    return {str(route["key"]): str(route["pack"]) for route in routes(session)}


def bases(session: Session) -> dict[str, Base]:
    """Return the base of the pack in use, by line."""
    return {key: base(session, sha) for key, sha in packs(session).items()}


def stored_file(session: Session, sha: str) -> bytes | None:
    """Return the gzip bytes of one pack file as they were built."""
    return session.scalar(select(PackFile.gz).where(PackFile.sha == sha))


def served_file(session: Session, sha: str) -> bytes | None:
    """Return a stored file that tablets may fetch: a source is the depot's own."""
    query = select(PackFile.gz).where(PackFile.sha == sha, PackFile.kind != "source")
    return session.scalar(query)


def known(session: Session, shas: Iterable[str]) -> set[str]:
    """Return those of these manifests that were ever published here."""
    wanted = set(shas)
    if not wanted:
        return set()
    query = select(PackFile.sha).where(PackFile.sha.in_(wanted), PackFile.kind == "manifest")
    return set(session.scalars(query))


def content(session: Session, sha: str) -> Any:
    """Return what is inside a published file or manifest."""
    packed = stored_file(session, sha)
    if packed is None:
        raise LookupError(f"no published file is named {sha}")
    return json.loads(gzip.decompress(packed))


def base(session: Session, pack_sha: str) -> Base:
    """Return the base of a published pack: its stops, trains, rail states."""
    raw = part(session, pack_sha, "base")
    if pack_sha not in _bases or _bases[pack_sha].file is not raw:
        if len(_bases) >= MOST_HELD:
            _bases.clear()
        _bases[pack_sha] = Base(raw)
    return _bases[pack_sha]


def table(session: Session, pack_sha: str) -> Json:
    """Return the table of a published pack, for the look-up."""
    return part(session, pack_sha, "table")


def pictures(session: Session, pack_sha: str, train: str) -> Json:
    """Return the pictures of one train of a published pack, and read no other train's."""
    return part(session, pack_sha, f"pictures-{train}")


def part(session: Session, pack_sha: str, name: str) -> Json:
    """Return a file of a pack as it stands, for `lines` and `packs`; never to be changed."""
    if (pack_sha, name) not in _held:
        files = content(session, pack_sha)["files"]
        named = [file["sha256"] for file in files if file.get("name", file["kind"]) == name]
        if not named:
            raise LookupError(f"the pack {pack_sha} has no {name}")
        found: Json = content(session, named[0])
        if len(_held) >= MOST_HELD:
            _held.clear()
        _held[pack_sha, name] = found
    return _held[pack_sha, name]
