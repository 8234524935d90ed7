"""The `Idempotency-Key` header: one key, one body, one answer.

Offered beside the ids of the items, which alone already make a repeat harmless. Written
after draft-ietf-httpapi-idempotency-key-header-07: a quoted string of RFC 9651.
"""

from __future__ import annotations

import contextlib
import hashlib
import json
import uuid
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Any

import http_sf
from sqlalchemy import JSON, Index, String, Text, cast, delete, select, update
from sqlalchemy.orm import Mapped, Session, mapped_column

from webapp.store.db import Base, UtcDateTime, insert_new


class KeptAnswer(Base):
    """What one `Idempotency-Key` was answered with; no results while it is worked on."""

    __tablename__ = "kept_answer"
    __table_args__ = (Index("ix_kept_answer_claimed_at", "claimed_at"),)

    scope: Mapped[str] = mapped_column(String(60), primary_key=True)
    key: Mapped[str] = mapped_column(String(255), primary_key=True)
    body_sha: Mapped[str] = mapped_column(String(64))
    claim: Mapped[uuid.UUID]
    claimed_at: Mapped[datetime] = mapped_column(UtcDateTime)
    results: Mapped[list[dict[str, Any]] | None] = mapped_column(JSON(none_as_null=True))


NAME = "Idempotency-Key"
LONGEST_KEY = 255
LIFETIME = timedelta(days=90)
# A server that died at work leaves its claim behind; after this time it counts no more.
AT_WORK = timedelta(seconds=60)
RETRY_AFTER_S = 5
UNSEEN = {"synchronize_session": False}


class KeyTrouble(Exception):
    """The key cannot be used like this; `status` and `code` say why."""

    def __init__(self, status: int, code: str, detail: str) -> None:
        super().__init__(detail)
        self.status, self.code, self.detail = status, code, detail


@dataclass(frozen=True)
class Claim:
    """The right to work on a key; `results` if the work was done before."""

    scope: str
    key: str
    token: uuid.UUID
    results: list[dict[str, Any]] | None = None


def read_key(header: str) -> str:
    """Return the key in a header's quoted string."""
    key: Any = None
    with contextlib.suppress(http_sf.StructuredFieldError, ValueError):
        parsed: Any = http_sf.parse(header.encode("latin-1"), tltype="item")
        key = parsed[0]
    if type(key) is not str or not 1 <= len(key) <= LONGEST_KEY:
        raise KeyTrouble(
            *(400, "bad_idempotency_key"),
            f'Send {NAME} as a quoted string of 1 to {LONGEST_KEY} characters, as "a1b2".',
        )
    return key


def body_sha(install_id: uuid.UUID, items: list[Any]) -> str:
    """Name what a batch holds. When and by which build it was sent changes on a repeat."""
    content = plain_json([str(install_id), items])
    return hashlib.sha256(content).hexdigest()


def plain_json(value: Any) -> bytes:
    """Write any JSON in one way, even what RFC 8785 has no bytes for."""
    try:
        return json.dumps(value, sort_keys=True).encode()
    except RecursionError:
        return b"nested too deeply"


def claim(session: Session, scope: str, key: str, sha: str, now: datetime) -> Claim:
    """Begin work on a key, or return what it was answered with before."""
    session.execute(delete(KeptAnswer).where(KeptAnswer.claimed_at < now - LIFETIME))
    mine = Claim(scope, key, uuid.uuid4())
    row = {
        **{"scope": scope, "key": key, "body_sha": sha},
        **{"claim": mine.token, "claimed_at": now, "results": None},
    }
    if insert_new(session, KeptAnswer, row, key=("scope", "key"), answer="key") is not None:
        return mine
    there = session.scalars(select(KeptAnswer).where(*_this(mine)).with_for_update()).one()
    if there.body_sha != sha:
        raise KeyTrouble(
            *(422, "idempotency_key_reused"),
            "This key came before with other items. Give every batch a key of its own.",
        )
    if there.results is not None:
        return Claim(scope, key, there.claim, there.results)
    if there.claimed_at > now - AT_WORK:
        raise at_work()
    there.claim, there.claimed_at = mine.token, now
    return mine


def finish(session: Session, mine: Claim, results: list[dict[str, Any]]) -> None:
    """Keep the answer in the transaction of the work itself."""
    statement = update(KeptAnswer).where(*_this(mine), KeptAnswer.claim == mine.token)
    done = session.execute(statement.values(results=results).returning(KeptAnswer.key)).all()
    if not done:  # we took too long and someone else has claimed the key: undo
        raise at_work()


def let_go(session: Session, mine: Claim) -> None:
    """Give up a claim whose work failed, so that a repeat need not wait."""
    session.execute(
        delete(KeptAnswer).where(
            *_this(mine), KeptAnswer.claim == mine.token, KeptAnswer.results.is_(None)
        )
    )


def forget(session: Session, name: str) -> None:
    """Delete the answers that name an item: scope and item together tell whose it was."""
    named = cast(KeptAnswer.results, Text).contains(name, autoescape=True)
    session.execute(delete(KeptAnswer).where(named).execution_options(**UNSEEN))


def at_work() -> KeyTrouble:
    return KeyTrouble(
        *(409, "in_progress"), "A batch with this key is being taken in. Send it again later."
    )


def _this(mine: Claim) -> tuple[Any, Any]:
    return KeptAnswer.scope == mine.scope, KeptAnswer.key == mine.key
