"""The depot's answers to reports."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0004"
down_revision = "0003"
branch_labels = None
depends_on = None


def upgrade() -> None:
    op.create_table(
        "report_answer",
        sa.Column("report_id", sa.Uuid(), nullable=False),
        sa.Column("kind", sa.String(length=20), nullable=False),
        sa.Column("trains", sa.Integer(), nullable=True),
        sa.Column("answered_at", sa.DateTime(timezone=True), nullable=False),
        sa.ForeignKeyConstraint(
            ["report_id"], ["report.id"], name=op.f("fk_report_answer_report_id")
        ),
        sa.PrimaryKeyConstraint("report_id", name=op.f("pk_report_answer")),
    )


def downgrade() -> None:
    op.drop_table("report_answer")
