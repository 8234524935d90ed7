"""The real depot in process, with what a person at its desk does to warnings and packs."""

from __future__ import annotations

import base64
import gzip
import json
import uuid
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

from sqlalchemy import select, text
from sqlalchemy.orm import Session

from tests.machine.depot import Answer, Depot
from tests.support.small_pack import small_pack
from webapp.lines import in_use
from webapp.publish import service as publisher
from webapp.publish.declared import declare
from webapp.publish.keys import canonical, new_key
from webapp.records import tablets
from webapp.records.warnings import models as warnings_models
from webapp.records.warnings import service as warnings
from webapp.records.warnings.models import WarningReceipt, WarningRev
from webapp.store.db import db, reading, writing

WHO = "a test"
LONG = timedelta(days=4000)
ROUTES = ("larch-valley", "kettle-bay")
VERSIONS = 4
#: What an older copy of the database takes back; the audit is left, since nothing reads it.
KEPT = (
    *("warning_clock", "warning", "warning_rev", "receipt_item", "warning_receipt"),
    *("warning_reach", "clearing_step", "pack_file", "index_rev", "feed_clock"),
)
Copy = dict[str, list[dict[str, Any]]]
PACKS = {
    (route, n): small_pack(route, f"{route} {n}", (100, 101 + n))
    for route in ROUTES
    for n in range(VERSIONS)
}


class FeedDepot(Depot):
    """Answers what one enrolled tablet asks, and tells what is true at it."""

    def __init__(self, folder: Path, url: str | None) -> None:
        super().__init__(folder, url)
        self.times = 0
        with self.app.app_context(), writing() as session:
            self._let_rows_go(session)
            token = tablets.enrol(session, "cab tablet", datetime.now(UTC), "Quay")
        self._client.set_cookie("sih-tablet", token)
        self._empty = self.copy()

    def begin(self) -> None:
        """As it was at first: with nothing published, and no warning."""
        self.put_back(self._empty)

    # What a tablet asks

    def ask(self, path: str, etag: str | None = None) -> Answer:
        """Answer a question as the network would bring it; a pack file as its bytes."""
        answer = self._client.get(path, headers={"If-None-Match": etag} if etag else None)
        head = answer.headers
        found: Answer = {
            "status": answer.status_code,
            "type": head.get("Content-Type", ""),
            "ours": head.get("X-Step-In-Hand") == "1",
            "etag": head.get("ETag"),
            "retryAfter": head.get("Retry-After"),
        }
        if path.startswith("/packs/") and answer.status_code == 200:
            packed = head.get("Content-Encoding") == "gzip"
            plain = gzip.decompress(answer.data) if packed else answer.data
            return {**found, "base64": base64.b64encode(plain).decode()}
        return {**found, "text": answer.text}

    # What a person at the desk does

    def warn(self, n: int) -> None:
        """Tell a new warning; none where no pack of the line is in use."""
        self.times += 1
        typed = {
            **{"line": ROUTES[0], "direction": "down", "state": "leaf"},
            **{"from_place": "0m 40ch", "to_place": f"1m {n % 60:02d}ch"},
            **{"reason": f"leaf film {self.times}", "told_by": "the signaller"},
            "from_at": "2026-11-25T06:40:00Z",
        }
        now = datetime.now(UTC)
        with self.app.app_context(), writing() as session:
            if ROUTES[0] not in in_use.bases(session):
                return
            made = warnings.draft(session, typed, WHO, now, self._name())
            warnings.publish(session, made.id, made.rev, WHO, now)

    def _name(self) -> uuid.UUID:
        """In the order in which they are made, so that an example runs the same again."""
        return uuid.UUID(f"00000000-0000-4000-8000-{self.times:012d}")

    def amend(self, n: int) -> None:
        self.times += 1
        changes = {"reason": f"worse {self.times}"}
        with self.app.app_context(), writing() as session:
            one = self._one(session, n, warnings.PUBLISHED)
            if one and ROUTES[0] in in_use.bases(session):
                warnings.amend(session, one.id, one.rev, changes, WHO, datetime.now(UTC))

    def end(self, n: int, ago: timedelta = timedelta()) -> None:
        """End one; ``ago``: so long that its end is not told any more."""
        with self.app.app_context(), writing() as session:
            one = self._one(session, n, warnings.PUBLISHED)
            if one:
                now = datetime.now(UTC) - ago
                warnings.end(session, one.id, one.rev, "the signaller", WHO, now)

    def settle(self, n: int) -> bool:
        """Settle a warning that tablets hold from before; return whether there was one.

        One is told again or ended. Where they hold a later wording, it is told as it stands.
        """
        with self.app.app_context(), writing() as session:
            now = datetime.now(UTC)
            one = self._one(session, n, warnings.DRAFT)
            if one is None:
                return self._tell_as_it_stands(session, now)
            if n % 2:
                warnings.publish(session, one.id, one.rev, WHO, now)
            else:
                warnings.end(session, one.id, one.rev, "the signaller", WHO, now)
        return True

    def _tell_as_it_stands(self, session: Session, now: datetime) -> bool:
        for one in warnings.listed(session):
            if warnings.newest_held(session, one) > one.rev:
                warnings.amend(session, one.id, one.rev, {}, WHO, now)
                return True
        return False

    def publish_pack(self, n: int) -> None:
        """A new pack of one of the lines, or one of before put in use again."""
        pack = PACKS[ROUTES[n % 2], n // 2 % VERSIONS]
        with self.app.app_context(), writing() as session:
            publisher.publish(session, pack, datetime.now(UTC))

    def withdraw(self, n: int) -> None:
        """All packs of a line, or its pack in use alone."""
        now, keys = datetime.now(UTC), self.app.extensions["depot_key"]
        with self.app.app_context(), writing() as session:
            index = publisher.ready(session, keys, now)
            if not index.routes:
                return
            one = index.routes[n % len(index.routes)]
            pack = one["pack"] if n % 3 == 0 else None
            publisher.withdraw(session, one["key"], "a test", now, keys.load(), WHO, pack)

    def renew_key(self, _n: int = 0) -> None:
        keys = self.app.extensions["depot_key"]
        with self.app.app_context(), writing() as session:
            publisher.renew_key(session, keys, datetime.now(UTC), WHO)

    # An older copy

    def copy(self) -> Copy:
        with self.app.app_context(), reading() as session:
            return {
                name: [
                    dict(row._mapping) for row in session.execute(select(self._table(name)))
                ]
                for name in KEPT
            }

    def put_back(self, copy: Copy) -> None:
        with self.app.app_context(), writing() as session:
            self._let_rows_go(session)
            for name in reversed(KEPT):
                session.execute(self._table(name).delete())
            for name in KEPT:
                if copy[name]:
                    session.execute(self._table(name).insert(), copy[name])

    def declare(self) -> None:
        with self.app.app_context(), writing() as session:
            declare(session, WHO, datetime.now(UTC), {}, numbers_known=True)

    # What is true here

    def keys(self) -> dict[str, Any]:
        """The public key, as enrolment hands it over."""
        said = json.loads(self.ask("/api/keys")["text"])
        return {"id": said["key_id"], "ed25519": said["ed25519"], "p256": said["p256"]}

    def living(self) -> dict[str, dict[str, Any]]:
        """Every warning in force, as tablets are told it."""
        page = json.loads(self.ask("/api/warnings?since=0")["text"])
        return {one["id"]: one for one in page["items"] if one["status"] != "ended"}

    def over(self) -> set[str]:
        """Ids of warnings that ended, of what is known here."""
        with self.app.app_context(), reading() as session:
            every = warnings.listed(session, ended=True)
            return {str(one.id) for one in every if one.status == warnings.ENDED}

    def index(self) -> dict[str, Any]:
        return dict(json.loads(self.ask("/api/index")["text"]))

    def received(self) -> dict[str, tuple[int, str]]:
        """What the tablet is said to have received: revision and its words, by warning."""
        query = select(WarningReceipt, WarningRev).join(
            WarningRev,
            (WarningRev.warning_id == WarningReceipt.warning_id)
            & (WarningRev.rev == WarningReceipt.received_rev),
        )
        with self.app.app_context(), reading() as session:
            return {
                str(told.warning_id): (told.received_rev, rev.body["reason"])
                for told, rev in session.execute(query)
            }

    def _one(self, session: Session, n: int, status: str) -> warnings_models.Warned | None:
        found = [one for one in warnings.listed(session) if one.status == status]
        return found[n % len(found)] if found else None

    def _table(self, name: str) -> Any:
        return db.metadata.tables[name]

    def _let_rows_go(self, session: Session) -> None:
        """Only a copy put back changes what is append-only, and that knows no triggers."""
        if session.get_bind().dialect.name == "postgresql":
            session.execute(text("SET LOCAL session_replication_role = replica"))
            return
        for name in ("warning_rev", "clearing_step"):
            for word in ("update", "delete"):
                session.execute(text(f"DROP TRIGGER IF EXISTS {name}_no_{word}"))


def forged(answer: Answer, n: int) -> Answer:
    """An index that is not the depot's: altered, under another key, or not signed."""
    body = json.loads(answer["text"])
    said = json.loads(body["signed"])
    said |= {"serial": said["serial"] + 5, "withdrawn": []}
    other = canonical(said)
    how = n % 3
    if how == 0:
        body["signed"] = other
    elif how == 1:
        made = new_key(datetime.now(UTC)).sign(other)
        body |= {**vars(made), "key_id": body["key_id"]}
    else:
        body |= {"signed": other, "sig_ed25519": "", "sig_p256": ""}
    return {**answer, "text": json.dumps(body)}
