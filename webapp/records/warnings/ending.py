"""The end of a warning as it was told, held against the company's rule of clearing."""

from __future__ import annotations

import uuid
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from sqlalchemy.orm import Session

from webapp.records.warnings import models as warnings_models
from webapp.records.warnings import service, steps
from webapp.records.warnings.clearing import Rule


class Missing(Exception):
    """Steps of the rule were not told, or reports nobody looked at are about its stretch.

    ``apart`` says how many came from tablets that are not enrolled; they release nothing,
    and a person is asked to take them in or set them aside.
    """

    def __init__(self, words: list[str], apart: str | None) -> None:
        super().__init__("; ".join([*words, *([apart] if apart else [])]))
        self.words, self.apart = words, apart


@dataclass(frozen=True)
class Reasons:
    """Why it ended without steps of the rule; why reports of others are set aside."""

    override: str = ""
    aside: str = ""


def end(
    session: Session,
    warning_id: uuid.UUID,
    rev: int,
    told: Mapping[str, Any],
    reasons: Reasons,
    rule: Rule,
    who: str,
    now: datetime,
) -> warnings_models.Warned:
    """End it in this transaction, or ask; the steps cannot change in between.

    ``told`` holds `told_by`, `told_at` and `reference`. Raises `Missing`, and what
    `service.end` raises.
    """
    warning = service.locked(session, warning_id, rev)
    found, _ = steps.cleared(session, warning, rule, told["told_at"])
    missing = [check.words for check in found.missing]
    apart = steps.apart(session, warning)
    ask_steps = missing and not reasons.override
    ask_apart = apart.count > 0 and not reasons.aside
    if ask_steps or ask_apart:
        raise Missing(missing if ask_steps else [], apart.words if ask_apart else None)
    if apart.count:
        steps.set_aside(session, warning, reasons.aside, who, now)
    more = {
        "end_told_at": told["told_at"].isoformat(timespec="seconds"),
        "end_reference": told["reference"],
        "missing": missing or None,
        "override": reasons.override if missing else None,
        "set_aside": apart.words if apart.count else None,
    }
    return service.end(session, warning_id, rev, told["told_by"], who, now, more)
