"""Publish a pack: its files once, and a new index only if something changed."""

from __future__ import annotations

import gzip
import hashlib
import json
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any, Protocol

from sqlalchemy import select
from sqlalchemy.orm import Session

from webapp.db import insert_new
from webapp.publish.models import FeedClock, IndexRev, PackFile


class FileLike(Protocol):
    """A pack file as the builder hands it over."""

    @property
    def kind(self) -> str: ...
    @property
    def sha256(self) -> str: ...
    @property
    def size(self) -> int: ...
    @property
    def gz(self) -> bytes: ...


class PackLike(Protocol):
    """A built pack: its manifest and files, all named by content."""

    @property
    def route(self) -> str: ...
    @property
    def name(self) -> str: ...
    @property
    def sha256(self) -> str: ...
    @property
    def files(self) -> Sequence[FileLike]: ...


@dataclass(frozen=True)
class Index:
    """What tablets ask for first: the current packs and a serial that only rises."""

    serial: int
    routes: list[dict[str, Any]]

    def tag(self, app_build: str) -> str:
        """Name this content; the server's clock in the answer is not content."""
        content = json.dumps([self.serial, app_build, self.routes], sort_keys=True)
        return hashlib.sha256(content.encode()).hexdigest()


def publish(session: Session, pack: PackLike, now: datetime) -> Index:
    """Store the pack's files, make it the route's current one; repeating changes nothing."""
    clock = session.scalars(select(FeedClock).with_for_update()).one()
    for file in pack.files:
        row = {"sha": file.sha256, "kind": file.kind, "size": file.size, "gz": file.gz}
        insert_new(session, PackFile, row, key="sha", answer="sha")
    former = current(session)
    routes = [route for route in former.routes if route["key"] != pack.route]
    routes.append(_entry(pack))
    routes.sort(key=lambda route: str(route["key"]))
    if routes == former.routes:
        return former
    clock.n += 1
    session.add(IndexRev(serial=clock.n, routes=routes, published_at=now))
    return Index(clock.n, routes)


def current(session: Session) -> Index:
    """Return the newest index; serial 0 with no routes before anything is published."""
    latest = session.scalars(
        select(IndexRev).order_by(IndexRev.serial.desc()).limit(1)
    ).first()
    return Index(latest.serial, latest.routes) if latest else Index(0, [])


def stored_file(session: Session, sha: str) -> bytes | None:
    """Return the gzip bytes of one pack file as they were built."""
    return session.scalar(select(PackFile.gz).where(PackFile.sha == sha))


def content(session: Session, sha: str) -> Any:
    """Return what is inside a published file or manifest."""
    packed = stored_file(session, sha)
    if packed is None:
        raise LookupError(f"no published file is named {sha}")
    return json.loads(gzip.decompress(packed))


def base(session: Session, pack_sha: str) -> dict[str, Any]:
    """Return the base of a published pack: its stops, trains, words."""
    manifest = content(session, pack_sha)
    sha = next(file["sha256"] for file in manifest["files"] if file["kind"] == "base")
    found: dict[str, Any] = content(session, sha)
    return found


def _entry(pack: PackLike) -> dict[str, Any]:
    return {
        "key": pack.route,
        "name": pack.name,
        "pack": pack.sha256,
        "bytes": sum(file.size for file in pack.files),
        "gz_bytes": sum(len(file.gz) for file in pack.files),
    }
