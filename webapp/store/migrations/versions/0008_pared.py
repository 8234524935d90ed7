"""Reports pared down to their grip fact, and their numbers, which are then nobody's."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0008"
down_revision = "0007"
branch_labels = None
depends_on = None


def upgrade() -> None:
    # Not in a batch: SQLite would build the table anew, and others refer to it.
    pared: sa.Column[object] = sa.Column("pared_at", sa.DateTime(timezone=True), nullable=True)
    op.add_column("report", pared)
    op.create_index("ix_report_pared", "report", ["pared_at", "received_at"])
    op.create_table(
        "closed_number",
        sa.Column("id", sa.Uuid(), nullable=False),
        sa.Column("device_id", sa.Uuid(), nullable=True),
        sa.Column("install_id", sa.Uuid(), nullable=False),
        sa.Column("seq", sa.Integer(), nullable=False),
        sa.ForeignKeyConstraint(
            ["device_id"], ["device.id"], name=op.f("fk_closed_number_device_id")
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_closed_number")),
    )
    op.create_index("ix_closed_number_install", "closed_number", ["install_id", "seq"])


def downgrade() -> None:
    op.drop_index("ix_closed_number_install", "closed_number")
    op.drop_table("closed_number")
    op.drop_index("ix_report_pared", "report")
    op.drop_column("report", "pared_at")
