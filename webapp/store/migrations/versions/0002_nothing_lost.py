"""Signed index, warnings with their feed, counts of approaches, sequence numbers."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0002"
down_revision = "0001"
branch_labels = None
depends_on = None

# What was published may be followed by more, never changed or taken away.
SEAL_WARNINGS = {
    "sqlite": [
        f"""CREATE TRIGGER warning_rev_no_{word.lower()} BEFORE {word} ON warning_rev
        BEGIN SELECT RAISE(ABORT, 'warning_rev is append-only'); END"""
        for word in ("UPDATE", "DELETE")
    ],
    "postgresql": [
        """CREATE FUNCTION refuse_warning_rev_change() RETURNS trigger LANGUAGE plpgsql AS
        $$ BEGIN RAISE EXCEPTION 'warning_rev is append-only'; END $$""",
        """CREATE TRIGGER warning_rev_append_only BEFORE UPDATE OR DELETE OR TRUNCATE
        ON warning_rev FOR EACH STATEMENT EXECUTE FUNCTION refuse_warning_rev_change()""",
    ],
}


def upgrade() -> None:
    """Each room adds its tables here until this version is released."""
    warnings_up()
    index_up()
    outbox_up()
    counts_up()


def downgrade() -> None:
    """Take away what ``upgrade`` made, last first."""
    counts_down()
    outbox_down()
    index_down()
    warnings_down()


def warnings_up() -> None:
    op.create_table(
        "warning_clock",
        sa.Column("id", sa.Integer(), autoincrement=False, nullable=False),
        sa.Column("n", sa.Integer(), nullable=False),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_warning_clock")),
    )
    op.create_table(
        "warning",
        sa.Column("id", sa.Uuid(), nullable=False),
        sa.Column("rev", sa.Integer(), nullable=False),
        sa.Column("feed_no", sa.Integer(), nullable=True),
        sa.Column("status", sa.String(length=20), nullable=False),
        sa.Column("line_key", sa.String(length=120), nullable=False),
        sa.Column("direction", sa.String(length=120), nullable=False),
        sa.Column("datum", sa.String(length=200), nullable=False),
        sa.Column("from_m", sa.Double(), nullable=False),
        sa.Column("to_m", sa.Double(), nullable=False),
        sa.Column("plan_state", sa.String(length=120), nullable=False),
        sa.Column("reason", sa.String(length=200), nullable=False),
        sa.Column("from_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("review_at", sa.DateTime(timezone=True), nullable=True),
        sa.Column("told_by", sa.String(length=120), nullable=False),
        sa.Column("reference", sa.String(length=120), nullable=False),
        sa.Column("changed_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("ended_at", sa.DateTime(timezone=True), nullable=True),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_warning")),
        sa.UniqueConstraint("feed_no", name=op.f("uq_warning_feed_no")),
    )
    op.create_index("ix_warning_feed", "warning", ["status", "feed_no"])
    op.create_table(
        "warning_rev",
        sa.Column("warning_id", sa.Uuid(), nullable=False),
        sa.Column("rev", sa.Integer(), autoincrement=False, nullable=False),
        sa.Column("feed_no", sa.Integer(), nullable=True),
        sa.Column("mark", sa.String(length=16), nullable=False),
        sa.Column("at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("body", sa.JSON(), nullable=False),
        sa.ForeignKeyConstraint(
            ["warning_id"], ["warning.id"], name=op.f("fk_warning_rev_warning_id")
        ),
        sa.PrimaryKeyConstraint("warning_id", "rev", name=op.f("pk_warning_rev")),
        sa.UniqueConstraint("feed_no", name=op.f("uq_warning_rev_feed_no")),
    )
    # The one row whose lock gives published warnings their order.
    op.execute("INSERT INTO warning_clock (id, n) VALUES (1, 0)")
    for statement in SEAL_WARNINGS[op.get_bind().dialect.name]:
        op.execute(statement)


def warnings_down() -> None:
    for table in ("warning_rev", "warning", "warning_clock"):
        op.drop_table(table)
    if op.get_bind().dialect.name == "postgresql":
        op.execute("DROP FUNCTION refuse_warning_rev_change()")


def index_up() -> None:
    # An index published before is signed when the server starts.
    withdrawn = sa.Column("withdrawn", sa.JSON(), nullable=False, server_default="[]")
    op.add_column("index_rev", withdrawn)
    op.add_column("index_rev", sa.Column("signed", sa.Text(), nullable=True))
    op.add_column("index_rev", sa.Column("key_id", sa.String(length=64), nullable=True))
    op.add_column("index_rev", sa.Column("sig_ed25519", sa.String(length=100), nullable=True))
    op.add_column("index_rev", sa.Column("sig_p256", sa.String(length=100), nullable=True))


def index_down() -> None:
    with op.batch_alter_table("index_rev", schema=None) as batch_op:
        for name in ("sig_p256", "sig_ed25519", "key_id", "signed", "withdrawn"):
            batch_op.drop_column(name)


def outbox_up() -> None:
    op.create_index("ix_report_supersedes", "report", ["supersedes"])
    op.create_table(
        "refusal",
        sa.Column("id", sa.Uuid(), nullable=False),
        sa.Column("payload_sha", sa.String(length=64), nullable=False),
        sa.Column("device_id", sa.Uuid(), nullable=True),
        sa.Column("install_id", sa.Uuid(), nullable=False),
        sa.Column("seq", sa.Integer(), nullable=False),
        sa.Column("code", sa.String(length=40), nullable=False),
        sa.Column("reason", sa.String(length=500), nullable=False),
        sa.Column("refused_at", sa.DateTime(timezone=True), nullable=False),
        sa.ForeignKeyConstraint(
            ["device_id"], ["device.id"], name=op.f("fk_refusal_device_id")
        ),
        sa.PrimaryKeyConstraint("id", "payload_sha", name=op.f("pk_refusal")),
    )
    op.create_index("ix_refusal_sequence", "refusal", ["device_id", "install_id", "seq"])
    op.create_index("ix_refusal_newest", "refusal", ["refused_at"])
    op.create_table(
        "kept_answer",
        sa.Column("scope", sa.String(length=60), nullable=False),
        sa.Column("key", sa.String(length=255), nullable=False),
        sa.Column("body_sha", sa.String(length=64), nullable=False),
        sa.Column("claim", sa.Uuid(), nullable=False),
        sa.Column("claimed_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("results", sa.JSON(none_as_null=True), nullable=True),
        sa.PrimaryKeyConstraint("scope", "key", name=op.f("pk_kept_answer")),
    )
    op.create_index("ix_kept_answer_claimed_at", "kept_answer", ["claimed_at"])


def outbox_down() -> None:
    op.drop_table("kept_answer")
    op.drop_table("refusal")
    op.drop_index("ix_report_supersedes", "report")


def counts_up() -> None:
    op.create_table(
        "approach_count",
        sa.Column("month", sa.String(length=7), nullable=False),
        sa.Column("line_key", sa.String(length=120), nullable=False),
        sa.Column("target", sa.String(length=120), nullable=False),
        sa.Column("hour", sa.Integer(), autoincrement=False, nullable=False),
        sa.Column("rail_state", sa.String(length=120), nullable=False),
        sa.Column("train_type", sa.String(length=120), nullable=False),
        sa.Column("enrolled", sa.Boolean(), nullable=False),
        sa.Column("n", sa.Integer(), nullable=False),
        sa.PrimaryKeyConstraint(
            *("month", "line_key", "target", "hour", "rail_state", "train_type", "enrolled"),
            name=op.f("pk_approach_count"),
        ),
    )
    op.create_table(
        "count_item",
        sa.Column("id", sa.Uuid(), nullable=False),
        sa.Column("payload_sha", sa.String(length=64), nullable=False),
        sa.Column("received_on", sa.Date(), nullable=False),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_count_item")),
    )


def counts_down() -> None:
    op.drop_table("count_item")
    op.drop_table("approach_count")
