"""``step-in-hand report carried``: what a tablet could not send, brought as a file."""

from __future__ import annotations

import uuid
from datetime import UTC, datetime
from pathlib import Path

import click

from webapp.commands.terminal import DATA_OPTION, open_data, say
from webapp.records import carried
from webapp.store.db import writing


@click.command("carried")
@click.argument("file", type=click.Path(exists=True, dir_okay=False, path_type=Path))
@click.option("--tablet", type=click.UUID, help="Id of the tablet it came from, if known.")
@click.option("--who", required=True, help="Who types this, for the audit.")
@DATA_OPTION
def carried_command(file: Path, tablet: uuid.UUID | None, who: str, data: Path | None) -> None:
    """Take in the FILE of unsent reports that a tablet wrote and somebody carried here."""
    app = open_data(data)
    try:
        with app.app_context(), writing() as session:
            taken = carried.take_in(session, file.read_bytes(), who, datetime.now(UTC), tablet)
    except carried.Unread as reason:
        raise click.ClickException(f"{file}: nothing was taken in. {reason}") from None
    for result in taken.results:
        name = f"report {result.server_no}" if result.server_no else result.id or "no id"
        say(f"{name}: {taken.word(result)} {result.code or ''}".rstrip())
    if taken.unreadable:
        click.echo(
            f"The tablet could not read {taken.unreadable} of its own: keep the tablet."
        )
