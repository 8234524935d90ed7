"""Reports of suspected wheel flats, what fleet found, trains that may not go somewhere."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0007"
down_revision = "0006"
branch_labels = None
depends_on = None

NUMBER = sa.BigInteger().with_variant(sa.Integer(), "sqlite")
AT_ONCE = 500


def upgrade() -> None:
    # Not in a batch: SQLite would build the table anew, and others refer to it.
    flats: sa.Column[bool] = sa.Column(
        "flats", sa.Boolean(), nullable=False, server_default=sa.false()
    )
    op.add_column("report", flats)
    _fill()
    op.create_index("ix_report_flats", "report", ["flats", "received_at"])
    op.create_table(
        "wheel_check",
        sa.Column("report_id", sa.Uuid(), nullable=False),
        sa.Column("inspected_by", sa.String(length=120), nullable=False),
        sa.Column("inspected_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("result", sa.String(length=200), nullable=False),
        sa.Column("noted_by", sa.String(length=60), nullable=False),
        sa.Column("noted_at", sa.DateTime(timezone=True), nullable=False),
        sa.ForeignKeyConstraint(
            ["report_id"], ["report.id"], name=op.f("fk_wheel_check_report_id")
        ),
        sa.PrimaryKeyConstraint("report_id", name=op.f("pk_wheel_check")),
    )
    op.create_table(
        "train_bar",
        sa.Column("id", sa.Uuid(), nullable=False),
        sa.Column("line_key", sa.String(length=120), nullable=False),
        sa.Column("place", sa.String(length=120), nullable=False),
        sa.Column("trains", sa.String(length=120), nullable=False),
        sa.Column("reason", sa.String(length=200), nullable=False),
        sa.Column("decided_by", sa.String(length=120), nullable=False),
        sa.Column("from_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("noted_by", sa.String(length=60), nullable=False),
        sa.Column("ended_at", sa.DateTime(timezone=True), nullable=True),
        sa.Column("ended_by", sa.String(length=60), nullable=True),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_train_bar")),
    )
    op.create_index("ix_train_bar_ended_at", "train_bar", ["ended_at"])
    op.create_index("ix_audit_at", "audit", ["at"])


def downgrade() -> None:
    op.drop_index("ix_audit_at", "audit")
    op.drop_table("train_bar")
    op.drop_table("wheel_check")
    op.drop_index("ix_report_flats", "report")
    op.drop_column("report", "flats")


def _fill() -> None:
    """Mark the reports that are there already."""
    report = sa.table(
        "report",
        *(sa.column("server_no", NUMBER), sa.column("item", sa.JSON())),
        sa.column("flats", sa.Boolean()),
    )
    link, last = op.get_bind(), 0
    query = sa.select(report.c.server_no, report.c.item).order_by(report.c.server_no)
    while rows := link.execute(query.where(report.c.server_no > last).limit(AT_ONCE)).all():
        last = rows[-1].server_no
        found = [row.server_no for row in rows if row.item["body"].get("flats_suspected")]
        if found:
            mark = report.update().where(report.c.server_no.in_(found))
            link.execute(mark.values(flats=True))
