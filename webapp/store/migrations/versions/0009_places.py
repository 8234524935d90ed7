"""The register of listed places and the proposals that were declined."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0009"
down_revision = "0008"
branch_labels = None
depends_on = None


def _text(name: str, most: int) -> sa.Column[str]:
    return sa.Column(name, sa.String(length=most), nullable=False)


def upgrade() -> None:
    op.create_table(
        "listed_place",
        sa.Column("id", sa.Uuid(), nullable=False),
        sa.Column("rev", sa.Integer(), nullable=False),
        _text("line_key", 120),
        _text("key", 120),
        _text("name", 120),
        _text("direction", 120),
        sa.Column("from_m", sa.Double(), nullable=False),
        sa.Column("to_m", sa.Double(), nullable=False),
        _text("state", 120),
        _text("season_from", 5),
        _text("season_to", 5),
        _text("reason", 200),
        _text("source", 200),
        sa.Column("changed_at", sa.DateTime(timezone=True), nullable=False),
        _text("changed_by", 120),
        sa.Column("retired_at", sa.DateTime(timezone=True), nullable=True),
        _text("retired_why", 200),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_listed_place")),
        sa.UniqueConstraint("line_key", "key", name=op.f("uq_listed_place_line_key_key")),
    )
    op.create_index("ix_listed_place_order", "listed_place", ["line_key", "from_m", "key"])
    op.create_table(
        "declined_place",
        sa.Column("id", sa.Uuid(), nullable=False),
        _text("line_key", 120),
        _text("direction", 120),
        sa.Column("from_m", sa.Double(), nullable=False),
        sa.Column("to_m", sa.Double(), nullable=False),
        sa.Column("reports", sa.Integer(), nullable=False),
        _text("reason", 200),
        sa.Column("declined_at", sa.DateTime(timezone=True), nullable=False),
        _text("declined_by", 120),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_declined_place")),
    )
    op.create_index("ix_declined_place_line", "declined_place", ["line_key", "declined_at"])


def downgrade() -> None:
    op.drop_table("declined_place")
    op.drop_table("listed_place")
