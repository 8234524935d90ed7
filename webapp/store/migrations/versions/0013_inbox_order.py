"""Indexes for what the inbox picks, in the inbox's order."""

from __future__ import annotations

from alembic import op

revision = "0013"
down_revision = "0012"
branch_labels = None
depends_on = None

INDEXES = {
    "ix_report_found_urgency": ["found"],
    "ix_report_rail_urgency": ["rail_state"],
    "ix_report_line_urgency": ["line_key", "direction"],
    "ix_report_state_urgency": ["waiting"],
}


def upgrade() -> None:
    for name, picked in INDEXES.items():
        op.create_index(name, "report", [*picked, "urgency", "received_at", "id"])


def downgrade() -> None:
    for name in INDEXES:
        op.drop_index(name, "report")
