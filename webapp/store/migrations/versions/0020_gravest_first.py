"""Waiting reports stand by what must be done about them: overruns above all."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import sqlalchemy as sa
from alembic import op

revision = "0020"
down_revision = "0019"
branch_labels = None
depends_on = None

AT_ONCE = 500
REPORT = sa.table(
    "report",
    sa.column("server_no", sa.BigInteger()),
    sa.column("item", sa.JSON()),
    sa.column("quarantined", sa.Boolean()),
    sa.column("urgency", sa.Integer()),
)
FOUND = {"good": 1, "expected": 2, "reportable": 3}


def upgrade() -> None:
    _rank(_gravity)


def downgrade() -> None:
    _rank(lambda body: 3 if _overrun(body) else FOUND.get(body["found"], 3))


def _rank(rank: Callable[[dict[str, Any]], int]) -> None:
    bind, last = op.get_bind(), 0
    waiting = sa.select(REPORT).where(REPORT.c.urgency > 0).order_by(REPORT.c.server_no)
    while rows := bind.execute(waiting.where(REPORT.c.server_no > last).limit(AT_ONCE)).all():
        for row in rows:
            urgency = 2 * rank(row.item["body"]) - int(row.quarantined)
            mine = REPORT.c.server_no == row.server_no
            bind.execute(sa.update(REPORT).where(mine).values(urgency=urgency))
        last = rows[-1].server_no


def _overrun(body: dict[str, Any]) -> bool:
    return "overrun" in (body.get("happened") or [])


def _gravity(body: dict[str, Any]) -> int:
    found = FOUND.get(body["found"], 3)
    if _overrun(body):
        return 7
    if body.get("train_not_seen"):
        return 6
    if found == 3 and body.get("told_signaller_at") is None:
        return 5
    return max(found, 4) if body.get("flats_suspected") else found
