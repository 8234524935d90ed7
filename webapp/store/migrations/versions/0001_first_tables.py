"""First tables."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0001"
down_revision = None
branch_labels = None
depends_on = None

NUMBER = sa.BigInteger().with_variant(sa.Integer(), "sqlite")
# Audit rows may be added, never changed or taken away, not even by our own code.
SEAL = {
    "sqlite": [
        f"""CREATE TRIGGER audit_no_{word.lower()} BEFORE {word} ON audit
        BEGIN SELECT RAISE(ABORT, 'audit is append-only'); END"""
        for word in ("UPDATE", "DELETE")
    ],
    "postgresql": [
        """CREATE FUNCTION refuse_audit_change() RETURNS trigger LANGUAGE plpgsql AS
        $$ BEGIN RAISE EXCEPTION 'audit is append-only'; END $$""",
        """CREATE TRIGGER audit_append_only BEFORE UPDATE OR DELETE OR TRUNCATE ON audit
        FOR EACH STATEMENT EXECUTE FUNCTION refuse_audit_change()""",
    ],
}


def upgrade() -> None:
    _audit_and_devices()
    _published()
    _reports()
    # The one row whose lock gives published things their order.
    op.execute("INSERT INTO feed_clock (id, n) VALUES (1, 0)")
    for statement in SEAL[op.get_bind().dialect.name]:
        op.execute(statement)


def _audit_and_devices() -> None:
    op.create_table(
        "audit",
        sa.Column(
            "id",
            NUMBER,
            autoincrement=True,
            nullable=False,
        ),
        sa.Column("at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("who", sa.String(length=120), nullable=False),
        sa.Column("what", sa.String(length=60), nullable=False),
        sa.Column("subject", sa.String(length=120), nullable=False),
        sa.Column("old", sa.JSON(), nullable=False),
        sa.Column("new", sa.JSON(), nullable=False),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_audit")),
        sqlite_autoincrement=True,
    )
    op.create_table(
        "device",
        sa.Column("id", sa.Uuid(), nullable=False),
        sa.Column("token_sha", sa.String(length=64), nullable=False),
        sa.Column("label", sa.String(length=120), nullable=False),
        sa.Column("enrolled_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("revoked_at", sa.DateTime(timezone=True), nullable=True),
        sa.Column("last_heard_at", sa.DateTime(timezone=True), nullable=True),
        sa.Column("app_build", sa.String(length=64), nullable=True),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_device")),
        sa.UniqueConstraint("token_sha", name=op.f("uq_device_token_sha")),
    )


def _published() -> None:
    op.create_table(
        "feed_clock",
        sa.Column("id", sa.Integer(), autoincrement=False, nullable=False),
        sa.Column("n", sa.Integer(), nullable=False),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_feed_clock")),
    )
    op.create_table(
        "index_rev",
        sa.Column("serial", sa.Integer(), autoincrement=False, nullable=False),
        sa.Column("routes", sa.JSON(), nullable=False),
        sa.Column("published_at", sa.DateTime(timezone=True), nullable=False),
        sa.PrimaryKeyConstraint("serial", name=op.f("pk_index_rev")),
    )
    op.create_table(
        "pack_file",
        sa.Column("sha", sa.String(length=64), nullable=False),
        sa.Column("kind", sa.String(length=20), nullable=False),
        sa.Column("size", sa.Integer(), nullable=False),
        sa.Column("gz", sa.LargeBinary(), nullable=False),
        sa.PrimaryKeyConstraint("sha", name=op.f("pk_pack_file")),
    )


def _reports() -> None:
    op.create_table(
        "report",
        sa.Column(
            "server_no",
            NUMBER,
            autoincrement=True,
            nullable=False,
        ),
        sa.Column("id", sa.Uuid(), nullable=False),
        sa.Column("device_id", sa.Uuid(), nullable=True),
        sa.Column("install_id", sa.Uuid(), nullable=False),
        sa.Column("seq", sa.Integer(), nullable=False),
        sa.Column("payload_sha", sa.String(length=64), nullable=False),
        sa.Column("item", sa.JSON(), nullable=False),
        sa.Column("line_key", sa.String(length=120), nullable=False),
        sa.Column("direction", sa.String(length=120), nullable=False),
        sa.Column("at_m", sa.Double(), nullable=True),
        sa.Column("found", sa.String(length=20), nullable=False),
        sa.Column("rail_state", sa.String(length=120), nullable=True),
        sa.Column("pack_sha", sa.String(length=64), nullable=True),
        sa.Column("supersedes", sa.Uuid(), nullable=True),
        sa.Column("observed_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("sent_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("received_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("clock_offset_s", sa.Double(), nullable=False),
        sa.Column("observed_est_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("quarantined", sa.Boolean(), nullable=False),
        sa.Column("version", sa.Integer(), nullable=False),
        sa.ForeignKeyConstraint(
            ["device_id"], ["device.id"], name=op.f("fk_report_device_id")
        ),
        sa.PrimaryKeyConstraint("server_no", name=op.f("pk_report")),
        sa.UniqueConstraint("id", name=op.f("uq_report_id")),
        sqlite_autoincrement=True,
    )
    with op.batch_alter_table("report", schema=None) as batch_op:
        batch_op.create_index("ix_report_along_line", ["line_key", "at_m"], unique=False)
        batch_op.create_index("ix_report_newest", ["received_at", "id"], unique=False)
        batch_op.create_index(
            "ix_report_sequence", ["device_id", "install_id", "seq"], unique=False
        )


def downgrade() -> None:
    with op.batch_alter_table("report", schema=None) as batch_op:
        batch_op.drop_index("ix_report_sequence")
        batch_op.drop_index("ix_report_newest")
        batch_op.drop_index("ix_report_along_line")

    op.drop_table("report")
    op.drop_table("pack_file")
    op.drop_table("index_rev")
    op.drop_table("feed_clock")
    op.drop_table("device")
    op.drop_table("audit")
    if op.get_bind().dialect.name == "postgresql":
        op.execute("DROP FUNCTION refuse_audit_change()")
