"""``step-in-hand declare-restored``: an older copy of the database was put back by hand."""

from __future__ import annotations

from datetime import UTC, datetime
from pathlib import Path

import click

from webapp.commands.terminal import DATA_OPTION, open_data
from webapp.publish.declared import declare
from webapp.store.db import writing

WHO = "at the server"


@click.command("declare-restored")
@click.option(
    "--reason", required=True, help="What was put back and from when, for the audit."
)
@DATA_OPTION
def declare_command(reason: str, data: Path | None) -> None:
    """Say that an older database was put back, and make it this folder's. Stop its server.

    Needed after a snapshot or a recovery to a point in time; `restore` does it by itself.
    """
    app = open_data(data, adopt=True)
    with app.app_context(), writing() as session:
        declare(session, WHO, datetime.now(UTC), {"reason": reason})
    click.echo(
        "Declared. At their next contact tablets offer again all that they still hold; "
        "/desk/restored shows which have not been heard from yet."
    )
