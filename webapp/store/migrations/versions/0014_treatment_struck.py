"""A treatment that was told wrongly can be taken back by a second row."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0014"
down_revision = "0013"
branch_labels = None
depends_on = None


def upgrade() -> None:
    op.add_column("treatment", sa.Column("strikes", sa.Uuid(), nullable=True))


def downgrade() -> None:
    # The rows stay, as the log lets none go: the former version shows them as "struck".
    op.drop_column("treatment", "strikes")
