"""The end of a warning as it was told, held against the company's rule of clearing."""

from __future__ import annotations

import uuid
from collections.abc import Mapping
from datetime import datetime
from typing import Any

from sqlalchemy.orm import Session

from webapp.warnings import service, steps
from webapp.warnings.clearing import Rule


class Missing(Exception):
    """Steps of the rule were not told, and nobody said why it ended all the same."""

    def __init__(self, words: list[str]) -> None:
        super().__init__("; ".join(words))
        self.words = words


def end(
    session: Session,
    warning_id: uuid.UUID,
    rev: int,
    told: Mapping[str, Any],
    override: str,
    rule: Rule,
    who: str,
    now: datetime,
) -> service.Warned:
    """End it in this transaction, or ask; the steps cannot change in between.

    ``told`` holds `told_by`, `told_at` and `reference`. Raises `Missing`, and what
    `service.end` raises.
    """
    warning = service.locked(session, warning_id, rev)
    found, _ = steps.cleared(session, warning, rule, told["told_at"])
    missing = [check.words for check in found.missing]
    if missing and not override:
        raise Missing(missing)
    more = {
        "end_told_at": told["told_at"].isoformat(timespec="seconds"),
        "end_reference": told["reference"],
        "missing": missing or None,
        "override": override if missing else None,
    }
    return service.end(session, warning_id, rev, told["told_by"], who, now, more)
