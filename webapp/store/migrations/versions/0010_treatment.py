"""The log of treatments, append-only."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0010"
down_revision = "0009"
branch_labels = None
depends_on = None

SEAL = {
    "sqlite": [
        f"""CREATE TRIGGER treatment_no_{word.lower()} BEFORE {word} ON treatment
        BEGIN SELECT RAISE(ABORT, 'treatment is append-only'); END"""
        for word in ("UPDATE", "DELETE")
    ],
    "postgresql": [
        """CREATE FUNCTION refuse_treatment_change() RETURNS trigger LANGUAGE plpgsql AS
        $$ BEGIN RAISE EXCEPTION 'treatment is append-only'; END $$""",
        """CREATE TRIGGER treatment_append_only BEFORE UPDATE OR DELETE OR TRUNCATE
        ON treatment FOR EACH STATEMENT EXECUTE FUNCTION refuse_treatment_change()""",
    ],
}


def upgrade() -> None:
    op.create_table(
        "treatment",
        sa.Column("id", sa.Uuid(), nullable=False),
        sa.Column("place_id", sa.Uuid(), nullable=False),
        sa.Column("done_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("means", sa.String(length=20), nullable=False),
        sa.Column("outcome", sa.String(length=20), nullable=False),
        sa.Column("next_line", sa.String(length=20), nullable=False),
        sa.Column("told_by", sa.String(length=120), nullable=False),
        sa.Column("note", sa.String(length=200), nullable=False),
        sa.Column("kept_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("kept_by", sa.String(length=120), nullable=False),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_treatment")),
    )
    op.create_index("ix_treatment_place", "treatment", ["place_id", "done_at"])
    for statement in SEAL[op.get_bind().dialect.name]:
        op.execute(statement)


def downgrade() -> None:
    op.drop_table("treatment")
    if op.get_bind().dialect.name == "postgresql":
        op.execute("DROP FUNCTION refuse_treatment_change()")
