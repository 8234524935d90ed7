"""Seals after an incident, which nobody can change or delete, and the reports they name."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0011"
down_revision = "0010"
branch_labels = None
depends_on = None

NUMBER = sa.BigInteger().with_variant(sa.Integer(), "sqlite")
TABLES = ("seal", "sealed_report")
# A seal may be followed by another, never changed or taken away.
APPEND_ONLY = {
    "sqlite": [
        f"""CREATE TRIGGER {table}_no_{word.lower()} BEFORE {word} ON {table}
        BEGIN SELECT RAISE(ABORT, '{table} is append-only'); END"""
        for table in TABLES
        for word in ("UPDATE", "DELETE")
    ],
    "postgresql": [
        """CREATE FUNCTION refuse_seal_change() RETURNS trigger LANGUAGE plpgsql AS
        $$ BEGIN RAISE EXCEPTION 'seals are append-only'; END $$""",
        *(
            f"""CREATE TRIGGER {table}_append_only BEFORE UPDATE OR DELETE OR TRUNCATE
            ON {table} FOR EACH STATEMENT EXECUTE FUNCTION refuse_seal_change()"""
            for table in TABLES
        ),
    ],
}


def upgrade() -> None:
    op.create_table(
        "seal",
        sa.Column("no", NUMBER, autoincrement=True, nullable=False),
        sa.Column("id", sa.Uuid(), nullable=False),
        sa.Column("payload_sha", sa.String(length=64), nullable=False),
        sa.Column("body", sa.JSON(), nullable=False),
        sa.Column("sealed_est_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("received_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("quarantined", sa.Boolean(), nullable=False),
        sa.PrimaryKeyConstraint("no", name=op.f("pk_seal")),
        sa.UniqueConstraint("id", name=op.f("uq_seal_id")),
        sqlite_autoincrement=True,
    )
    op.create_table(
        "sealed_report",
        sa.Column("seal_no", NUMBER, autoincrement=False, nullable=False),
        sa.Column("report_id", sa.Uuid(), nullable=False),
        sa.ForeignKeyConstraint(
            ["seal_no"], ["seal.no"], name=op.f("fk_sealed_report_seal_no")
        ),
        sa.PrimaryKeyConstraint("seal_no", "report_id", name=op.f("pk_sealed_report")),
    )
    op.create_index("ix_sealed_report_report_id", "sealed_report", ["report_id"])
    for statement in APPEND_ONLY[op.get_bind().dialect.name]:
        op.execute(statement)


def downgrade() -> None:
    op.drop_table("sealed_report")
    op.drop_table("seal")
    if op.get_bind().dialect.name == "postgresql":
        op.execute("DROP FUNCTION refuse_seal_change()")
