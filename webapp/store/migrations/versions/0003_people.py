"""People at the desk, their log-ins, failed tries; codes that enrol tablets."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0003"
down_revision = "0002"
branch_labels = None
depends_on = None


def upgrade() -> None:
    op.create_table(
        "person",
        sa.Column("id", sa.Uuid(), nullable=False),
        sa.Column("login", sa.String(length=60), nullable=False),
        sa.Column("pass_hash", sa.String(length=200), nullable=False),
        sa.Column("role", sa.String(length=20), nullable=False),
        sa.Column("manages_people", sa.Boolean(), nullable=False),
        sa.Column("must_change", sa.Boolean(), nullable=False),
        sa.Column("made_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("disabled_at", sa.DateTime(timezone=True), nullable=True),
        sa.Column("version", sa.Integer(), nullable=False),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_person")),
        sa.UniqueConstraint("login", name=op.f("uq_person_login")),
    )
    op.create_table(
        "desk_session",
        sa.Column("token_sha", sa.String(length=64), nullable=False),
        sa.Column("person_id", sa.Uuid(), nullable=False),
        sa.Column("began_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("seen_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("ends_at", sa.DateTime(timezone=True), nullable=False),
        sa.ForeignKeyConstraint(
            ["person_id"], ["person.id"], name=op.f("fk_desk_session_person_id")
        ),
        sa.PrimaryKeyConstraint("token_sha", name=op.f("pk_desk_session")),
    )
    op.create_index("ix_desk_session_person", "desk_session", ["person_id"])
    op.create_table(
        "throttle",
        sa.Column("kind", sa.String(length=20), nullable=False),
        sa.Column("key", sa.String(length=64), nullable=False),
        sa.Column("window", sa.DateTime(timezone=True), nullable=False),
        sa.Column("n", sa.Integer(), nullable=False),
        sa.PrimaryKeyConstraint("kind", "key", "window", name=op.f("pk_throttle")),
    )
    op.create_table(
        "enrol_code",
        sa.Column("code_sha", sa.String(length=64), nullable=False),
        sa.Column("label", sa.String(length=120), nullable=False),
        sa.Column("made_by", sa.String(length=60), nullable=False),
        sa.Column("expires_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("used_at", sa.DateTime(timezone=True), nullable=True),
        sa.PrimaryKeyConstraint("code_sha", name=op.f("pk_enrol_code")),
    )
    op.add_column("device", sa.Column("installed", sa.Boolean(), nullable=True))


def downgrade() -> None:
    # Not as a batch: that makes the table anew, and reports refer to its rows.
    op.drop_column("device", "installed")
    op.drop_table("enrol_code")
    op.drop_table("throttle")
    op.drop_index("ix_desk_session_person", "desk_session")
    op.drop_table("desk_session")
    op.drop_table("person")
