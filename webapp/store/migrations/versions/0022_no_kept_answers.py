"""No answer to a batch is kept: the ids of its items make a repeat harmless."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0022"
down_revision = "0021"
branch_labels = None
depends_on = None


def upgrade() -> None:
    op.drop_table("kept_answer")


def downgrade() -> None:
    op.create_table(
        "kept_answer",
        sa.Column("scope", sa.String(length=60), nullable=False),
        sa.Column("key", sa.String(length=255), nullable=False),
        sa.Column("body_sha", sa.String(length=64), nullable=False),
        sa.Column("claim", sa.Uuid(), nullable=False),
        sa.Column("claimed_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("results", sa.JSON(none_as_null=True), nullable=True),
        sa.PrimaryKeyConstraint("scope", "key", name=op.f("pk_kept_answer")),
    )
    op.create_index("ix_kept_answer_claimed_at", "kept_answer", ["claimed_at"])
