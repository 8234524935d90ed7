"""Temporary speed restrictions."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0012"
down_revision = "0011"
branch_labels = None
depends_on = None


def upgrade() -> None:
    op.create_table(
        "restriction",
        sa.Column("id", sa.Uuid(), nullable=False),
        sa.Column("rev", sa.Integer(), nullable=False),
        sa.Column("line_key", sa.String(length=120), nullable=False),
        sa.Column("direction", sa.String(length=120), nullable=False),
        sa.Column("from_m", sa.Double(), nullable=False),
        sa.Column("to_m", sa.Double(), nullable=False),
        sa.Column("speed", sa.Integer(), nullable=False),
        sa.Column("unit", sa.String(length=10), nullable=False),
        sa.Column("speed_mps", sa.Double(), nullable=False),
        sa.Column("from_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("until_at", sa.DateTime(timezone=True), nullable=True),
        sa.Column("reference", sa.String(length=120), nullable=False),
        sa.Column("told_by", sa.String(length=120), nullable=False),
        sa.Column("changed_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("changed_by", sa.String(length=120), nullable=False),
        sa.Column("ended_at", sa.DateTime(timezone=True), nullable=True),
        sa.Column("ended_told_by", sa.String(length=120), nullable=False),
        sa.Column("ended_why", sa.String(length=200), nullable=False),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_restriction")),
    )
    op.create_index("ix_restriction_place", "restriction", ["line_key", "from_m", "id"])
    op.create_index("ix_restriction_ended", "restriction", ["ended_at", "id"])


def downgrade() -> None:
    op.drop_table("restriction")
