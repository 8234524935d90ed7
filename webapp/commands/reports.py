"""``step-in-hand report``: tell the tablet that sent a report what became of it."""

from __future__ import annotations

from datetime import UTC, datetime
from pathlib import Path

import click

from webapp.commands.terminal import DATA_OPTION, open_data
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
