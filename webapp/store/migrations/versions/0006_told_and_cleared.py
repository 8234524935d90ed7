"""What tablets hold and which warnings reached them; how the clearing of a warning went."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0006"
down_revision = "0005"
branch_labels = None
depends_on = None

# A step that was told wrongly is struck by a further row, never changed or taken away.
SEAL_STEPS = {
    "sqlite": [
        f"""CREATE TRIGGER clearing_step_no_{word.lower()} BEFORE {word} ON clearing_step
        BEGIN SELECT RAISE(ABORT, 'clearing_step is append-only'); END"""
        for word in ("UPDATE", "DELETE")
    ],
    "postgresql": [
        """CREATE FUNCTION refuse_clearing_step_change() RETURNS trigger LANGUAGE plpgsql AS
        $$ BEGIN RAISE EXCEPTION 'clearing_step is append-only'; END $$""",
        """CREATE TRIGGER clearing_step_append_only BEFORE UPDATE OR DELETE OR TRUNCATE
        ON clearing_step FOR EACH STATEMENT EXECUTE FUNCTION refuse_clearing_step_change()""",
    ],
}


def upgrade() -> None:
    tablets_up()
    receipts_up()
    desk_up()


def downgrade() -> None:
    """Take away what ``upgrade`` made, last first."""
    desk_down()
    receipts_down()
    tablets_down()


def tablets_up() -> None:
    for table in ("device", "enrol_code"):
        base = sa.Column("base", sa.String(length=60), nullable=False, server_default="")
        op.add_column(table, base)
    op.create_table(
        "tablet_pack",
        sa.Column("device_id", sa.Uuid(), nullable=False),
        sa.Column("line_key", sa.String(length=120), nullable=False),
        sa.Column("pack_sha", sa.String(length=64), nullable=False),
        sa.Column("told_at", sa.DateTime(timezone=True), nullable=False),
        sa.ForeignKeyConstraint(
            ["device_id"], ["device.id"], name=op.f("fk_tablet_pack_device_id")
        ),
        sa.PrimaryKeyConstraint("device_id", "line_key", name=op.f("pk_tablet_pack")),
    )


def tablets_down() -> None:
    op.drop_table("tablet_pack")
    for table in ("enrol_code", "device"):
        op.drop_column(table, "base")


def receipts_up() -> None:
    op.create_table(
        "receipt_item",
        sa.Column("id", sa.Uuid(), nullable=False),
        sa.Column("payload_sha", sa.String(length=64), nullable=False),
        sa.Column("received_at", sa.DateTime(timezone=True), nullable=False),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_receipt_item")),
    )
    op.create_index("ix_receipt_item_received_at", "receipt_item", ["received_at"])
    op.create_table(
        "warning_receipt",
        sa.Column("warning_id", sa.Uuid(), nullable=False),
        sa.Column("device_id", sa.Uuid(), nullable=False),
        sa.Column("received_rev", sa.Integer(), nullable=False),
        sa.Column("received_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("seen_rev", sa.Integer(), nullable=True),
        sa.Column("seen_at", sa.DateTime(timezone=True), nullable=True),
        sa.ForeignKeyConstraint(
            ["warning_id"], ["warning.id"], name=op.f("fk_warning_receipt_warning_id")
        ),
        sa.ForeignKeyConstraint(
            ["device_id"], ["device.id"], name=op.f("fk_warning_receipt_device_id")
        ),
        sa.PrimaryKeyConstraint("warning_id", "device_id", name=op.f("pk_warning_receipt")),
    )
    op.create_index("ix_warning_receipt_device", "warning_receipt", ["device_id"])
    op.create_table(
        "warning_reach",
        sa.Column("warning_id", sa.Uuid(), nullable=False),
        sa.Column("base", sa.String(length=60), nullable=False),
        sa.Column("tablets", sa.Integer(), nullable=False),
        sa.Column("received", sa.Integer(), nullable=False),
        sa.Column("seen", sa.Integer(), nullable=False),
        sa.ForeignKeyConstraint(
            ["warning_id"], ["warning.id"], name=op.f("fk_warning_reach_warning_id")
        ),
        sa.PrimaryKeyConstraint("warning_id", "base", name=op.f("pk_warning_reach")),
    )


def receipts_down() -> None:
    op.drop_table("warning_reach")
    op.drop_table("warning_receipt")
    op.drop_table("receipt_item")


def desk_up() -> None:
    told = sa.Column("told_at", sa.DateTime(timezone=True), nullable=True)
    op.add_column("warning", told)
    op.add_column("warning", sa.Column("report_id", sa.Uuid(), nullable=True))
    op.create_index("ix_warning_list", "warning", ["status", "changed_at"])
    op.create_index("ix_warning_report", "warning", ["report_id"])
    op.create_table(
        "clearing_step",
        sa.Column("id", sa.Uuid(), nullable=False),
        sa.Column("warning_id", sa.Uuid(), nullable=False),
        sa.Column("kind", sa.String(length=20), nullable=False),
        sa.Column("result", sa.String(length=20), nullable=True),
        sa.Column("told_by", sa.String(length=120), nullable=False),
        sa.Column("told_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("reference", sa.String(length=120), nullable=False),
        sa.Column("note", sa.String(length=200), nullable=False),
        sa.Column("strikes", sa.Uuid(), nullable=True),
        sa.Column("kept_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("kept_by", sa.String(length=120), nullable=False),
        sa.ForeignKeyConstraint(
            ["warning_id"], ["warning.id"], name=op.f("fk_clearing_step_warning_id")
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_clearing_step")),
    )
    op.create_index("ix_clearing_step_warning", "clearing_step", ["warning_id", "told_at"])
    for statement in SEAL_STEPS[op.get_bind().dialect.name]:
        op.execute(statement)


def desk_down() -> None:
    op.drop_table("clearing_step")
    if op.get_bind().dialect.name == "postgresql":
        op.execute("DROP FUNCTION refuse_clearing_step_change()")
    op.drop_index("ix_warning_report", "warning")
    op.drop_index("ix_warning_list", "warning")
    op.drop_column("warning", "report_id")
    op.drop_column("warning", "told_at")
