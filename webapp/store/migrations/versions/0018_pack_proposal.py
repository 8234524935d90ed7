"""A pack is proposed, compared and approved before tablets are given it."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0018"
down_revision = "0017"
branch_labels = None
depends_on = None


def upgrade() -> None:
    op.create_table(
        "pack_proposal",
        sa.Column(
            "id",
            sa.BigInteger().with_variant(sa.Integer(), "sqlite"),
            primary_key=True,
            autoincrement=True,
        ),
        sa.Column("route", sa.String(80), nullable=False),
        sa.Column("name", sa.String(200), nullable=False),
        sa.Column("cause", sa.String(20), nullable=False),
        sa.Column("state", sa.String(12), nullable=False),
        sa.Column("source", sa.String(64)),
        sa.Column("register", sa.JSON(), nullable=False),
        sa.Column("pack", sa.String(64)),
        sa.Column("former", sa.String(64)),
        sa.Column("doubts", sa.JSON(), nullable=False),
        sa.Column("progress", sa.String(200)),
        sa.Column("problem", sa.Text()),
        sa.Column("made_by", sa.String(120), nullable=False),
        sa.Column("made_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("reason", sa.Text(), nullable=False),
        sa.Column("decided_by", sa.String(120)),
        sa.Column("decided_at", sa.DateTime(timezone=True)),
        sa.Column("decided_why", sa.Text()),
        sqlite_autoincrement=True,
    )
    op.create_index("ix_pack_proposal_route_state", "pack_proposal", ["route", "state"])


def downgrade() -> None:
    op.drop_table("pack_proposal")
