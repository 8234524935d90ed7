"""What a second buys on each line, worked out in the background."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0023"
down_revision = "0022"
branch_labels = None
depends_on = None


def upgrade() -> None:
    op.create_table(
        "room_study",
        sa.Column("route", sa.String(length=80), nullable=False),
        sa.Column("source", sa.String(length=64), nullable=False),
        sa.Column("result", sa.JSON(none_as_null=True), nullable=True),
        sa.Column("progress", sa.String(length=200), nullable=True),
        sa.Column("problem", sa.Text(), nullable=True),
        sa.Column("asked_by", sa.String(length=120), nullable=False),
        sa.Column("asked_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("done_at", sa.DateTime(timezone=True), nullable=True),
        sa.PrimaryKeyConstraint("route", name=op.f("pk_room_study")),
    )


def downgrade() -> None:
    op.drop_table("room_study")
