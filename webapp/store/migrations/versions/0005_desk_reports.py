"""What the desk does with a report, and what it filters and searches by."""

from __future__ import annotations

from typing import Any

import sqlalchemy as sa
from alembic import op

revision = "0005"
down_revision = "0004"
branch_labels = None
depends_on = None

NUMBER = sa.BigInteger().with_variant(sa.Integer(), "sqlite")
INDEXES = {
    "ix_report_urgency": ["urgency", "received_at", "id"],
    "ix_report_waiting": ["waiting", "received_at", "id"],
    "ix_report_apart": ["quarantined", "received_at", "id"],
    "ix_report_found": ["found", "received_at", "id"],
    "ix_report_seen": ["observed_est_at", "id"],
    "ix_report_on_line": ["line_key", "observed_est_at", "id"],
    "ix_report_repeats": ["repeats"],
}
COLUMNS = ("target", "happened", "waiting", "urgency", "reviewed_at", "reviewed_by", "repeats")
# What was said to the desk is added to, never changed or taken away.
SEAL = {
    "sqlite": [
        """CREATE TRIGGER report_note_no_update BEFORE UPDATE ON report_note
        BEGIN SELECT RAISE(ABORT, 'report_note is append-only'); END""",
    ],
    "postgresql": [
        """CREATE FUNCTION refuse_report_note_change() RETURNS trigger LANGUAGE plpgsql AS
        $$ BEGIN RAISE EXCEPTION 'report_note is append-only'; END $$""",
        """CREATE TRIGGER report_note_append_only BEFORE UPDATE
        ON report_note FOR EACH STATEMENT EXECUTE FUNCTION refuse_report_note_change()""",
    ],
}
FOUND = {"good": 2, "expected": 4, "reportable": 6}
SEARCHED = ("text", "place", "target", "found", "weather", "rail_state", "train", "direction")
AT_ONCE = 500


def upgrade() -> None:
    _columns()
    op.create_table(
        "report_words",
        sa.Column("server_no", NUMBER, autoincrement=False, nullable=False),
        sa.Column("words", sa.Text(), nullable=False),
        sa.ForeignKeyConstraint(
            ["server_no"],
            ["report.server_no"],
            name=op.f("fk_report_words_server_no"),
            ondelete="CASCADE",
        ),
        sa.PrimaryKeyConstraint("server_no", name=op.f("pk_report_words")),
    )
    op.create_table(
        "report_note",
        sa.Column("id", NUMBER, autoincrement=True, nullable=False),
        sa.Column("report_id", sa.Uuid(), nullable=False),
        sa.Column("said_by", sa.String(length=120), nullable=False),
        sa.Column("said_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("reference", sa.String(length=120), nullable=False),
        sa.Column("text", sa.String(length=2000), nullable=False),
        sa.Column("noted_by", sa.String(length=120), nullable=False),
        sa.Column("noted_at", sa.DateTime(timezone=True), nullable=False),
        sa.ForeignKeyConstraint(
            ["report_id"], ["report.id"], name=op.f("fk_report_note_report_id")
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_report_note")),
        sqlite_autoincrement=True,
    )
    op.create_index("ix_report_note_report_id", "report_note", ["report_id", "id"])
    _fill()
    for name, columns in INDEXES.items():
        op.create_index(name, "report", columns)
    op.drop_index("ix_report_sequence", "report")
    columns = ["device_id", "install_id", "seq", "received_at"]
    op.create_index("ix_report_sequence", "report", columns)
    op.create_index("ix_audit_subject", "audit", ["subject", "id"])
    for statement in SEAL[op.get_bind().dialect.name]:
        op.execute(statement)


def downgrade() -> None:
    op.drop_index("ix_audit_subject", "audit")
    op.drop_index("ix_report_sequence", "report")
    op.create_index("ix_report_sequence", "report", ["device_id", "install_id", "seq"])
    for name in INDEXES:
        op.drop_index(name, "report")
    op.drop_table("report_note")
    if op.get_bind().dialect.name == "postgresql":
        op.execute("DROP FUNCTION refuse_report_note_change()")
    op.drop_table("report_words")
    for name in COLUMNS:
        op.drop_column("report", name)


def _columns() -> None:
    added: tuple[sa.Column[Any], ...] = (
        sa.Column("target", sa.String(length=120), nullable=True),
        sa.Column("happened", sa.String(length=160), nullable=False, server_default=""),
        sa.Column("waiting", sa.Boolean(), nullable=False, server_default=sa.true()),
        sa.Column("urgency", sa.Integer(), nullable=False, server_default="0"),
        sa.Column("reviewed_at", sa.DateTime(timezone=True), nullable=True),
        sa.Column("reviewed_by", sa.String(length=120), nullable=True),
        sa.Column("repeats", sa.Uuid(), nullable=True),
    )
    for column in added:
        op.add_column("report", column)


def _fill() -> None:
    """Take out of the reports that are there what new ones have beside them from now on."""
    report = sa.table(
        "report",
        *(sa.column("server_no", NUMBER), sa.column("item", sa.JSON())),
        *(sa.column("quarantined", sa.Boolean()), sa.column("target", sa.String())),
        *(sa.column("happened", sa.String()), sa.column("urgency", sa.Integer())),
    )
    words = sa.table("report_words", sa.column("server_no", NUMBER), sa.column("words"))
    link, last = op.get_bind(), 0
    query = sa.select(report.c.server_no, report.c.item, report.c.quarantined)
    query = query.order_by(report.c.server_no).limit(AT_ONCE)
    while rows := link.execute(query.where(report.c.server_no > last)).all():
        last = rows[-1].server_no
        link.execute(
            report.update().where(report.c.server_no == sa.bindparam("no")),
            [{"no": row.server_no, **_taken(row)} for row in rows],
        )
        link.execute(
            words.insert(),
            [{"server_no": row.server_no, "words": _words(row.item["body"])} for row in rows],
        )


def _taken(row: Any) -> dict[str, Any]:
    body = row.item["body"]
    signs = body.get("happened") or []
    rank = FOUND["reportable"] if "overrun" in signs else FOUND.get(body["found"], 6)
    return {
        "target": body.get("target"),
        "happened": f"|{'|'.join(signs)}|" if signs else "",
        "urgency": rank - int(row.quarantined),
    }


def _words(body: dict[str, Any]) -> str:
    said = [str(body.get(name) or "") for name in SEARCHED] + (body.get("happened") or [])
    return " ".join(part for part in said if part).casefold()
