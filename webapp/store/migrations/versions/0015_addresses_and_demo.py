"""Network addresses leave the audit for a table that forgets; a demo's database says so.

The audit refuses every change. Its seal is lifted here alone, inside this transaction, for
the one thing that should never have been in it.
"""

from __future__ import annotations

import json
from datetime import UTC, datetime, timedelta

import sqlalchemy as sa
from alembic import op

revision = "0015"
down_revision = "0014"
branch_labels = None
depends_on = None

NUMBER = sa.BigInteger().with_variant(sa.Integer(), "sqlite")
KEPT = timedelta(days=30)
LIFT = {
    "sqlite": ["DROP TRIGGER audit_no_update"],
    "postgresql": ["DROP TRIGGER audit_append_only ON audit"],
}
SEAL = {
    "sqlite": [
        """CREATE TRIGGER audit_no_update BEFORE UPDATE ON audit
        BEGIN SELECT RAISE(ABORT, 'audit is append-only'); END"""
    ],
    "postgresql": [
        """CREATE TRIGGER audit_append_only BEFORE UPDATE OR DELETE OR TRUNCATE ON audit
        FOR EACH STATEMENT EXECUTE FUNCTION refuse_audit_change()"""
    ],
}
AUDIT = sa.table(
    "audit",
    sa.column("id", NUMBER),
    sa.column("at", sa.DateTime(timezone=True)),
    sa.column("who", sa.String),
    sa.column("what", sa.String),
    sa.column("new", sa.JSON),
)


def upgrade() -> None:
    made = op.create_table(
        "log_in_address",
        sa.Column("id", NUMBER, autoincrement=True, nullable=False),
        sa.Column("at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("login", sa.String(length=60), nullable=False),
        sa.Column("address", sa.String(length=60), nullable=False),
        sa.Column("let_in", sa.Boolean(), nullable=False),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_log_in_address")),
    )
    op.create_index("ix_log_in_address_at", "log_in_address", ["at"])
    op.create_table(
        "demo_mark",
        sa.Column("id", sa.Integer(), autoincrement=False, nullable=False),
        sa.Column("made_at", sa.DateTime(timezone=True), nullable=False),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_demo_mark")),
    )
    bind = op.get_bind()
    for statement in LIFT[bind.dialect.name]:
        op.execute(statement)
    _move(bind, made)
    for statement in SEAL[bind.dialect.name]:
        op.execute(statement)


def _move(bind: sa.Connection, made: sa.Table) -> None:
    oldest = datetime.now(UTC) - KEPT
    query = sa.select(AUDIT).where(AUDIT.c.what.in_(["log-in", "log-in.refused"]))
    for row in bind.execute(query).mappings().all():
        said = row["new"] if isinstance(row["new"], dict) else json.loads(row["new"] or "{}")
        address = said.pop("address", None)
        if address is None:
            continue
        at = row["at"].replace(tzinfo=UTC) if row["at"].tzinfo is None else row["at"]
        if at >= oldest:
            kept = {"login": row["who"][:60], "address": str(address)[:60]}
            let_in = row["what"] == "log-in"
            bind.execute(made.insert().values(at=row["at"], let_in=let_in, **kept))
        bind.execute(sa.update(AUDIT).where(AUDIT.c.id == row["id"]).values(new=said))


def downgrade() -> None:
    op.drop_table("demo_mark")
    op.drop_index("ix_log_in_address_at", "log_in_address")
    op.drop_table("log_in_address")
