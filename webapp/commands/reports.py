"""``step-in-hand report``: answer the tablet that sent one; take in what it could not send."""

from __future__ import annotations

import uuid
from datetime import UTC, datetime
from pathlib import Path

import click

from webapp.commands.terminal import DATA_OPTION, open_data, say
from webapp.records import carried
from webapp.records.reports import answers
from webapp.store.db import writing


@click.group("report")
def report_commands() -> None:
    """Answer what drivers reported."""


@report_commands.command("answer")
@click.argument("number", type=int)
@click.option("--warned", type=int, help="How many trains were warned because of it.")
@click.option("--reviewed", is_flag=True, help="It was read, and no train had to be warned.")
@click.option("--who", required=True, help="Who types this, for the audit.")
@DATA_OPTION
def answer_command(
    number: int, warned: int | None, reviewed: bool, who: str, data: Path | None
) -> None:
    """Answer the report with this NUMBER at the depot."""
    if (warned is None) == (not reviewed):
        raise click.UsageError("give either --warned N or --reviewed.")
    app = open_data(data)
    try:
        with app.app_context(), writing() as session:
            report = answers.find(session, number)
            given = answers.answer(session, report, warned, who, datetime.now(UTC))
    except answers.NotAnswered as reason:
        raise click.ClickException(f"nothing was changed: {reason}") from None
    told = given.kind if given.trains is None else f"{given.kind} {given.trains} trains"
    click.echo(f"report {number}: {told}")


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
