"""Signed index, warnings with their feed, counts of approaches, sequence numbers."""

from __future__ import annotations

revision = "0002"
down_revision = "0001"
branch_labels = None
depends_on = None


def upgrade() -> None:
    """Each room adds its tables here until this version is released."""


def downgrade() -> None:
    """Take away what ``upgrade`` made, last first."""
