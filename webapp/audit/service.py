"""Write an audit entry in the transaction of the deed itself."""

from __future__ import annotations

from datetime import datetime
from typing import Any

from sqlalchemy.orm import Session

from webapp.audit.models import AuditEntry


def record(
    session: Session, at: datetime, who: str, what: str, subject: str, old: Any, new: Any
) -> None:
    session.add(AuditEntry(at=at, who=who, what=what, subject=subject, old=old, new=new))
