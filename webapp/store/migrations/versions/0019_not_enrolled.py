"""A store of their own for reports and seals of tablets that are not enrolled.

What was kept apart among the reports is moved over, unless a person has worked with it:
reviewed, joined, answered, noted, a warning made from it, wheels looked at. Of a tablet
that was ended, what it saw while it was enrolled counts from now on.
"""

from __future__ import annotations

import json
from datetime import UTC, datetime, timedelta
from typing import Any

import sqlalchemy as sa
from alembic import op

revision = "0019"
down_revision = "0018"
branch_labels = None
depends_on = None

NUMBER = sa.BigInteger().with_variant(sa.Integer(), "sqlite")
MOMENT = sa.DateTime(timezone=True)
# Longer than what comes from now on: its tablet was told a number and offers it no more.
KEPT = timedelta(days=90)
GRAVITY = {"good": 1, "expected": 2, "reportable": 3}
# A person, or a table that refuses changes, points at it: it stays where it is.
WORKED_WITH = """
    report.reviewed_at IS NOT NULL OR report.repeats IS NOT NULL OR report.pared_at IS NOT NULL
    OR EXISTS (SELECT 1 FROM report AS other WHERE other.repeats = report.id)
    OR EXISTS (SELECT 1 FROM report_answer AS a WHERE a.report_id = report.id)
    OR EXISTS (SELECT 1 FROM report_note AS n WHERE n.report_id = report.id)
    OR EXISTS (SELECT 1 FROM warning AS w WHERE w.report_id = report.id)
    OR EXISTS (SELECT 1 FROM wheel_check AS c WHERE c.report_id = report.id)
    OR EXISTS (SELECT 1 FROM sealed_report AS s WHERE s.report_id = report.id)
"""
WHILE_ENROLLED = """
    UPDATE report SET quarantined = :no WHERE quarantined = :yes AND EXISTS (
        SELECT 1 FROM device AS d WHERE d.id = report.device_id
        AND d.enrolled_at <= report.observed_est_at
        AND (d.revoked_at IS NULL OR report.observed_est_at < d.revoked_at)
    )
"""


def upgrade() -> None:
    op.create_table(
        "not_enrolled_item",
        sa.Column("no", NUMBER, autoincrement=True, nullable=False),
        sa.Column("id", sa.Uuid(), nullable=False),
        sa.Column("payload_sha", sa.String(length=64), nullable=False),
        sa.Column("kind", sa.String(length=20), nullable=False),
        sa.Column("install_id", sa.Uuid(), nullable=False),
        sa.Column("item", sa.JSON(), nullable=False),
        sa.Column("size", sa.Integer(), nullable=False),
        sa.Column("sent_at", MOMENT, nullable=False),
        sa.Column("received_at", MOMENT, nullable=False),
        sa.Column("observed_est_at", MOMENT, nullable=False),
        sa.Column("carried", sa.Boolean(), nullable=False),
        sa.Column("line_key", sa.String(length=120), nullable=True),
        sa.Column("direction", sa.String(length=120), nullable=True),
        sa.Column("target", sa.String(length=120), nullable=True),
        sa.Column("at_m", sa.Double(), nullable=True),
        sa.Column("gravity", sa.Integer(), nullable=False),
        sa.Column("flats", sa.Boolean(), nullable=False),
        sa.Column("former_no", sa.BigInteger(), nullable=True),
        sa.Column("expires_at", MOMENT, nullable=False),
        sa.Column("aside_at", MOMENT, nullable=True),
        sa.Column("aside_by", sa.String(length=120), nullable=True),
        sa.Column("aside_why", sa.String(length=200), nullable=True),
        sa.PrimaryKeyConstraint("no", name=op.f("pk_not_enrolled_item")),
        sa.UniqueConstraint("id", "payload_sha", name="uq_not_enrolled_item_id"),
        sqlite_autoincrement=True,
    )
    for name, columns in {
        "waiting": ["aside_at", "gravity", "received_at", "no"],
        "along_line": ["line_key", "direction", "received_at"],
        "expires_at": ["expires_at"],
    }.items():
        op.create_index(f"ix_not_enrolled_item_{name}", "not_enrolled_item", columns)
    op.create_table(
        "not_enrolled_spent",
        sa.Column("sender", sa.String(length=64), nullable=False),
        sa.Column("window", MOMENT, nullable=False),
        sa.Column("requests", sa.Integer(), nullable=False),
        sa.Column("rows", sa.Integer(), nullable=False),
        sa.Column("size", sa.Integer(), nullable=False),
        sa.PrimaryKeyConstraint("sender", "window", name=op.f("pk_not_enrolled_spent")),
    )
    _move(op.get_bind())


COLUMNS: tuple[sa.Column[Any], ...] = (
    sa.Column("id", sa.Uuid()),
    sa.Column("payload_sha", sa.String()),
    sa.Column("install_id", sa.Uuid()),
    sa.Column("item", sa.JSON()),
    sa.Column("sent_at", MOMENT),
    sa.Column("received_at", MOMENT),
    sa.Column("observed_est_at", MOMENT),
    sa.Column("line_key", sa.String()),
    sa.Column("direction", sa.String()),
    sa.Column("target", sa.String()),
    sa.Column("at_m", sa.Double()),
    sa.Column("flats", sa.Boolean()),
)
REPORT = sa.Table(
    "report",
    sa.MetaData(),
    sa.Column("server_no", sa.BigInteger()),
    *(c._copy() for c in COLUMNS),
)
HELD = sa.Table(
    "not_enrolled_item",
    sa.MetaData(),
    *COLUMNS,
    sa.Column("kind", sa.String()),
    sa.Column("size", sa.Integer()),
    sa.Column("carried", sa.Boolean()),
    sa.Column("gravity", sa.Integer()),
    sa.Column("former_no", sa.BigInteger()),
    sa.Column("expires_at", MOMENT),
)


def _move(bind: sa.Connection) -> None:
    bind.execute(sa.text(WHILE_ENROLLED).bindparams(no=False, yes=True))
    apart = sa.text(f"report.quarantined = :yes AND NOT ({WORKED_WITH})").bindparams(yes=True)
    query = sa.select(REPORT).where(apart).order_by(REPORT.c.server_no).limit(500)
    words = sa.text("DELETE FROM report_words WHERE server_no = :no")
    expires = datetime.now(UTC) + KEPT
    while rows := bind.execute(query).mappings().all():
        for row in rows:
            no, item = row["server_no"], row["item"]
            body = item["body"]
            overrun = "overrun" in (body.get("happened") or [])
            kept: dict[str, Any] = {c.name: row[c.name] for c in COLUMNS}
            kept |= {"kind": "report", "size": len(json.dumps(item)), "carried": False}
            kept["gravity"] = 4 if overrun else GRAVITY.get(body["found"], 3)
            kept |= {"former_no": no, "expires_at": expires}
            bind.execute(sa.insert(HELD).values(**kept))
            bind.execute(words, {"no": no})
            bind.execute(sa.delete(REPORT).where(REPORT.c.server_no == no))


def downgrade() -> None:
    # What was moved does not come back: it was kept apart, and its tablets may offer it.
    op.drop_table("not_enrolled_spent")
    op.drop_table("not_enrolled_item")
