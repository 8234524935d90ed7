"""Enrol a tablet, know it again, note when it was heard."""

from __future__ import annotations

import hashlib
import secrets
import uuid
from dataclasses import dataclass
from datetime import datetime

from sqlalchemy import select, update
from sqlalchemy.orm import Session

from webapp.tablets.models import Device

TOKEN_BYTES = 32


@dataclass(frozen=True)
class Tablet:
    """A device that showed a token we gave out."""

    id: uuid.UUID
    label: str
    valid: bool


def enrol(session: Session, label: str, now: datetime) -> str:
    """Create a device and return its token; only the token's hash is kept."""
    token = secrets.token_urlsafe(TOKEN_BYTES)
    session.add(Device(id=uuid.uuid4(), token_sha=_sha(token), label=label, enrolled_at=now))
    return token


def known(session: Session, token: str | None) -> Tablet | None:
    """Return the tablet that holds this token; a revoked one is known but not valid."""
    if not token:
        return None
    device = session.scalar(select(Device).where(Device.token_sha == _sha(token)))
    if device is None:
        return None
    return Tablet(id=device.id, label=device.label, valid=device.revoked_at is None)


def heard(session: Session, tablet: Tablet, now: datetime, app_build: str) -> None:
    """Note the contact; the row lock also queues two batches of one tablet."""
    session.execute(
        update(Device)
        .where(Device.id == tablet.id)
        .values(last_heard_at=now, app_build=app_build)
    )


def revoke(session: Session, device_id: uuid.UUID, now: datetime) -> None:
    """End a device: its reports still arrive, but as quarantined."""
    session.execute(update(Device).where(Device.id == device_id).values(revoked_at=now))


def labels(session: Session, ids: set[uuid.UUID]) -> dict[uuid.UUID, str]:
    """Return the names of some devices for the desk."""
    rows = session.execute(select(Device.id, Device.label).where(Device.id.in_(ids)))
    return {row.id: row.label for row in rows}


def _sha(token: str) -> str:
    return hashlib.sha256(token.encode("utf-8", "surrogatepass")).hexdigest()
