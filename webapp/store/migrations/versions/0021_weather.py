"""Weather of each line: what was read, what a person made worse, whose column is which."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0021"
down_revision = "0020"
branch_labels = None
depends_on = None

MOMENT = sa.DateTime(timezone=True)


def upgrade() -> None:
    op.create_table(
        "weather_reading",
        sa.Column("id", sa.Uuid(), nullable=False),
        sa.Column("line_key", sa.String(length=120), nullable=False),
        sa.Column("read_at", MOMENT, nullable=False),
        sa.Column("given_at", MOMENT, nullable=False),
        sa.Column("read_by", sa.String(length=120), nullable=False),
        sa.Column("source", sa.String(length=200), nullable=False),
        sa.Column("station", sa.String(length=120), nullable=False),
        sa.Column("away_km", sa.Double(), nullable=True),
        sa.Column("hours", sa.JSON(), nullable=False),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_weather_reading")),
    )
    op.create_index(
        "ix_weather_reading_line", "weather_reading", ["line_key", "read_at", "id"]
    )
    op.create_table(
        "weather_change",
        sa.Column("id", sa.Uuid(), nullable=False),
        sa.Column("line_key", sa.String(length=120), nullable=False),
        sa.Column("state", sa.String(length=120), nullable=False),
        sa.Column("from_at", MOMENT, nullable=False),
        sa.Column("until_at", MOMENT, nullable=False),
        sa.Column("reason", sa.String(length=200), nullable=False),
        sa.Column("set_at", MOMENT, nullable=False),
        sa.Column("set_by", sa.String(length=120), nullable=False),
        sa.Column("back_at", MOMENT, nullable=True),
        sa.Column("back_by", sa.String(length=120), nullable=False),
        sa.Column("back_why", sa.String(length=200), nullable=False),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_weather_change")),
    )
    op.create_index("ix_weather_change_line", "weather_change", ["line_key", "until_at", "id"])
    op.create_table(
        "weather_columns",
        sa.Column("line_key", sa.String(length=120), nullable=False),
        sa.Column("columns", sa.JSON(), nullable=False),
        sa.Column("changed_at", MOMENT, nullable=False),
        sa.Column("changed_by", sa.String(length=120), nullable=False),
        sa.PrimaryKeyConstraint("line_key", name=op.f("pk_weather_columns")),
    )


def downgrade() -> None:
    for name in ("weather_columns", "weather_change", "weather_reading"):
        op.drop_table(name)
