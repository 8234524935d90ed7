"""The depot's own id and epoch: which folder belongs to a database, and which history."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0016"
down_revision = "0015"
branch_labels = None
depends_on = None


def upgrade() -> None:
    op.create_table(
        "depot",
        sa.Column("id", sa.Integer(), autoincrement=False, nullable=False),
        sa.Column("name", sa.Uuid(), nullable=False),
        sa.Column("epoch", sa.String(length=16), nullable=False),
        sa.Column("epoch_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("restored", sa.Boolean(), nullable=False),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_depot")),
    )


def downgrade() -> None:
    op.drop_table("depot")
    if op.get_bind().dialect.name != "postgresql":
        return
    # The former version takes its numbers from sequences, which stood still meanwhile.
    for table, column in (("report", "server_no"), ("seal", "no")):
        op.execute(
            f"SELECT setval(pg_get_serial_sequence('{table}', '{column}'), "
            f"(SELECT coalesce(max({column}), 0) + 1 FROM {table}), false)"
        )
