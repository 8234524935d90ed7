"""Publish and withdraw packs: files once, and a new signed index only if something changed."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Sequence
from dataclasses import dataclass, field
from datetime import datetime
from typing import Any, Protocol

from sqlalchemy import select
from sqlalchemy.orm import Session

from webapp.lines import in_use
from webapp.lines.rows import FeedClock, IndexRev, PackFile
from webapp.plain.config import SettingsError
from webapp.plain.jsontext import rfc3339
from webapp.publish.keys import DepotKey, KeyFile, Signed, canonical
from webapp.store import audit
from webapp.store.db import insert_new, setting

INDEX_FORMAT = "step-in-hand/index"
PROOF_FORMAT = "step-in-hand/proof"
LONGEST_REASON = 200
# More changes than a depot makes between two backups.
SKIPPED = 1000


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
    withdrawn: list[dict[str, Any]] = field(default_factory=list)
    signature: Signed | None = None

    def tag(self, app_build: str) -> str:
        """Name this content; the server's clock in the answer is not content."""
        named = self.signature
        content = [self.serial, app_build, self.routes, self.withdrawn]
        content += [named.signed, named.key_id, named.sig_p256] if named else []
        return hashlib.sha256(json.dumps(content, sort_keys=True).encode()).hexdigest()


class NothingToWithdraw(LookupError):
    """No pack of this route is published; the message names the routes that have one."""


def publish(
    session: Session, pack: PackLike, now: datetime, key: DepotKey | None = None
) -> Index:
    """Store the pack's files, make it the route's current one; repeating changes nothing.

    Without a key the index is signed when it is first served.
    """
    clock = lock(session)
    for file in pack.files:
        store_file(session, file)
    return _in_use(session, clock, _entry(pack), now, key)


def put_in_use(session: Session, sha: str, now: datetime, key: DepotKey | None) -> Index:
    """Make a pack whose files are stored the current one of its route.

    Raises
    ------
    LookupError
        If no such pack is stored.
    """
    return _in_use(session, lock(session), _stored_entry(session, sha), now, key)


def store_file(session: Session, file: FileLike) -> None:
    """Keep a file under its hash; one that is there already stays."""
    row = {"sha": file.sha256, "kind": file.kind, "size": file.size, "gz": file.gz}
    insert_new(session, PackFile, row, key="sha", answer="sha")


def lock(session: Session) -> FeedClock:
    """Let one change of the index at a time in: the lock is held until the commit."""
    return session.scalars(select(FeedClock).with_for_update()).one()


def _in_use(
    session: Session,
    clock: FeedClock,
    entry: dict[str, Any],
    now: datetime,
    key: DepotKey | None,
) -> Index:
    former = current(session)
    routes = [route for route in former.routes if route["key"] != entry["key"]]
    routes.append(entry)
    routes.sort(key=lambda route: str(route["key"]))
    withdrawn = _without(former.withdrawn, str(entry["pack"]))
    if (routes, withdrawn) == (former.routes, former.withdrawn):
        return former
    return _next_index(session, clock, routes, withdrawn, now, key)


def withdraw(
    session: Session,
    route: str,
    reason: str,
    now: datetime,
    key: DepotKey,
    who: str,
    pack: str | None = None,
) -> Index:
    """Take a route's packs back: tablets then show no advice from any of them.

    All packs the route ever had are named, since a trip in hand may keep an older one;
    with `pack` only that one, and the route keeps its current pack if it is another.

    Raises
    ------
    NothingToWithdraw
        When the route has no current pack, or never had this one.
    """
    clock = lock(session)
    former = current(session)
    ever = _ever_published(session, route)
    current_one = next((one for one in former.routes if one["key"] == route), None)
    if pack is None and current_one is None:
        known = ", ".join(str(one["key"]) for one in former.routes) or "none"
        raise NothingToWithdraw(f"no pack of {route!r} is published (published: {known})")
    if pack is not None and pack not in ever:
        raise NothingToWithdraw(f"{route!r} never had a pack {pack[:8]}")
    packs = ever if pack is None else {pack}
    name = in_use.base(session, pack).name if pack else (current_one or {})["name"]
    gone = [one for one in former.routes if one["key"] == route and one["pack"] in packs]
    entry = {
        "route": route,
        "name": name,
        "packs": sorted(packs | _withdrawn_before(former, route)),
        "reason": reason,
        "at": rfc3339(now),
    }
    others = [one for one in former.withdrawn if one["route"] != route]
    withdrawn = sorted([*others, entry], key=lambda one: str(one["route"]))
    routes = [one for one in former.routes if one not in gone]
    named = pack or (current_one or {})["pack"]
    audit.record(
        session, now, who, "pack.withdrawn", route, {"pack": named}, {"reason": reason}
    )
    return _next_index(session, clock, routes, withdrawn, now, key)


def _withdrawn_before(index: Index, route: str) -> set[str]:
    return {pack for one in index.withdrawn if one["route"] == route for pack in one["packs"]}


def _ever_published(session: Session, route: str) -> set[str]:
    every = session.scalars(select(IndexRev.routes))
    return {one["pack"] for routes in every for one in routes if one["key"] == route}


def _without(withdrawn: list[dict[str, Any]], sha: str) -> list[dict[str, Any]]:
    """Return what stays withdrawn once the pack `sha` is published again."""
    left = [{**one, "packs": [p for p in one["packs"] if p != sha]} for one in withdrawn]
    return [one for one in left if one["packs"]]


def _next_index(
    session: Session,
    clock: FeedClock,
    routes: list[dict[str, Any]],
    withdrawn: list[dict[str, Any]],
    now: datetime,
    key: DepotKey | None,
) -> Index:
    clock.n += 1
    row = IndexRev(serial=clock.n, routes=routes, withdrawn=withdrawn, published_at=now)
    session.add(row)
    if key is not None:
        _sign(session, row, key)
    return _index(row)


def current(session: Session) -> Index:
    """Return the newest index; serial 0 with no routes before anything is published."""
    row = _newest(session)
    return _index(row) if row else Index(0, [])


def ready(session: Session, keys: KeyFile, now: datetime) -> Index:
    """Return the newest index signed with the depot's key; both are made if missing.

    Raises
    ------
    SettingsError
        When the key is not the one that tablets know by now.
    """
    # Whoever waits here finds the key and the signature of who went first.
    session.scalars(select(FeedClock).with_for_update()).one()
    row = _newest(session)
    key = keys.load()
    if key is None and (row is None or row.key_id is None):
        key = keys.make(now)
    if key is None or (row is not None and row.key_id and not key.follows(row.key_id)):
        raise SettingsError(
            f"{keys.path}: {'missing' if key is None else 'another key'}. Tablets know the "
            f"key that signed the index, {(row.key_id if row else None) or ''}. Put its file "
            "back from the backup. If it is lost, type step-in-hand key renew --lost; every "
            "tablet must then be enrolled again."
        )
    if row is None:
        return signed_empty(key)
    if row.signed is None or row.key_id != key.id:
        _sign(session, row, key)
    return _index(row)


def settle(session: Session, keys: KeyFile, now: datetime) -> Index:
    """Return the newest index as `ready` does, saying what is set now, at the start."""
    found = ready(session, keys, now)
    row, key = _newest(session), keys.load()
    if row is None or key is None or row.signed is None:
        return found
    if json.loads(row.signed).get("tablet") == _of_tablets(session):
        return found
    clock = session.scalars(select(FeedClock).with_for_update()).one()
    return _next_index(session, clock, row.routes, row.withdrawn or [], now, key)


def skip_ahead(session: Session, now: datetime, given: int) -> int:
    """Give the newest index a much higher serial; return the highest serial given so far.

    After an older copy was put back tablets hold serials that it never heard of, and would
    refuse it as old. ``given`` is the serial it was raised to the last time: the same copy may
    be put back twice. Whose key signed before stays known, so that a lost key is noticed.
    """
    clock = session.scalars(select(FeedClock).with_for_update()).one()
    row = _newest(session)
    clock.n = max(clock.n, given) + SKIPPED
    if row is None:
        return clock.n
    clock.n -= 1
    _next_index(session, clock, row.routes, row.withdrawn or [], now, None)
    session.flush()
    ahead = _newest(session)
    assert ahead is not None
    ahead.key_id = row.key_id
    return ahead.serial


def signed_empty(key: DepotKey) -> Index:
    """Sign that nothing is published yet."""
    return Index(0, [], [], key.sign(_text(0, [], [], None)))


def prove(index: Index, key: DepotKey, nonce: str, now: datetime) -> Signed:
    """Sign what a tablet just made up, with the time and the index that stands: only the
    depot can, and only now. An answer that somebody kept proves nothing.
    """
    stands = index.signature.signed if index.signature else ""
    said = {
        "format": PROOF_FORMAT,
        "version": 1,
        "n": nonce,
        "at": rfc3339(now),
        "index": hashlib.sha256(stands.encode()).hexdigest(),
    }
    return key.sign(canonical(said))


def renew_key(
    session: Session, keys: KeyFile, now: datetime, who: str, *, lost: bool = False
) -> DepotKey:
    """Make a new key, handed over by the old one, and sign the newest index with it."""
    session.scalars(select(FeedClock).with_for_update()).one()
    old = None if lost else ready(session, keys, now).signature
    key = keys.renew(now, lost=lost)
    row = _newest(session)
    if row is not None:
        _sign(session, row, key)
    audit.record(
        session,
        now,
        who,
        "key.renewed",
        key.id,
        {"key_id": old and old.key_id},
        {"lost": lost},
    )
    return key


def _newest(session: Session) -> IndexRev | None:
    return session.scalars(select(IndexRev).order_by(IndexRev.serial.desc()).limit(1)).first()


def _index(row: IndexRev) -> Index:
    signature = None
    if row.signed and row.key_id and row.sig_ed25519 and row.sig_p256:
        signature = Signed(row.signed, row.key_id, row.sig_ed25519, row.sig_p256)
    return Index(row.serial, row.routes, row.withdrawn or [], signature)


def _of_tablets(session: Session) -> dict[str, int]:
    """Return what tablets are to do, under the depot's signature."""
    return {"keep_days": int(setting(session, "TABLET_DAYS"))}


def _sign(session: Session, row: IndexRev, key: DepotKey) -> None:
    """Sign the index; a text once signed stays as it is under a renewed key."""
    at = rfc3339(row.published_at)
    tablet = _of_tablets(session)
    text = row.signed or _text(row.serial, row.routes, row.withdrawn or [], at, tablet)
    made = key.sign(text)
    row.signed, row.key_id = made.signed, made.key_id
    row.sig_ed25519, row.sig_p256 = made.sig_ed25519, made.sig_p256


def _text(
    serial: int,
    routes: list[dict[str, Any]],
    withdrawn: list[dict[str, Any]],
    at: str | None,
    tablet: dict[str, int] | None = None,
) -> str:
    return canonical(
        {
            # Left out where nothing is published: that text is one for all depots and times.
            **({"tablet": tablet} if tablet else {}),
            "format": INDEX_FORMAT,
            "version": 1,
            "serial": serial,
            "published_at": at,
            "routes": routes,
            "withdrawn": withdrawn,
        }
    )


def _stored_entry(session: Session, sha: str) -> dict[str, Any]:
    manifest = in_use.content(session, sha)
    rows = session.execute(select(PackFile.size, PackFile.gz).where(PackFile.sha == sha)).one()
    files = manifest["files"]
    return {
        "key": manifest["route"],
        "name": manifest["name"],
        "pack": sha,
        "bytes": rows.size + sum(file["bytes"] for file in files),
        "gz_bytes": len(rows.gz) + sum(file["gz_bytes"] for file in files),
    }


def _entry(pack: PackLike) -> dict[str, Any]:
    return {
        "key": pack.route,
        "name": pack.name,
        "pack": pack.sha256,
        "bytes": sum(file.size for file in pack.files),
        "gz_bytes": sum(len(file.gz) for file in pack.files),
    }
