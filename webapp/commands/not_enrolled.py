"""``step-in-hand not-enrolled``: what came from tablets that are not, at a keyboard."""

from __future__ import annotations

import uuid
from datetime import UTC, datetime
from pathlib import Path

import click

from webapp.commands.terminal import DATA_OPTION, open_data, say
from webapp.records import not_enrolled, outbox
from webapp.store.db import reading, writing

NUMBER = click.IntRange(1, not_enrolled.LARGEST - 1)
WHO_OPTION = click.option("--who", required=True, help="Who types this, for the audit.")
WHY_OPTION = click.option("--reason", required=True, help="Why, for the audit.")


@click.group("not-enrolled")
def not_enrolled_commands() -> None:
    """Look at reports from tablets that are not enrolled; no rule counts them."""


@not_enrolled_commands.command("list")
@DATA_OPTION
def list_command(data: Path | None) -> None:
    """List what waits, the gravest first."""
    app = open_data(data)
    with app.app_context(), reading() as session:
        number, page = 1, not_enrolled.page(session, 1, aside=False)
        while page.rows:
            for row in page.rows:
                body = row.item["body"]
                said = [body.get("found", row.kind), *(body.get("happened") or [])]
                where = f"{row.line_key or ''} {row.direction or ''} {body.get('place') or ''}"
                seen = f"{row.observed_est_at:%Y-%m-%d %H:%M}Z"
                say(f"{row.no}  {', '.join(said)}  {' '.join(where.split())}  {seen}")
            number += 1
            page = not_enrolled.page(session, number, aside=False)
        click.echo(not_enrolled.waiting(session).words)


@not_enrolled_commands.command("take-in")
@click.argument("number", type=NUMBER)
@click.option("--tablet", type=click.UUID, required=True, help="Id of the tablet it is from.")
@WHO_OPTION
@DATA_OPTION
def take_in_command(number: int, tablet: uuid.UUID, who: str, data: Path | None) -> None:
    """Count NUMBER of the list as the report of a named tablet."""
    app = open_data(data)
    try:
        with app.app_context(), writing() as session:
            result = outbox.take_over(session, number, tablet, who, datetime.now(UTC))
    except LookupError as reason:
        raise click.ClickException(str(reason.args[0])) from None
    if result.server_no is None:
        raise click.ClickException(f"nothing was taken in: {result.code}. Set it aside.")
    click.echo(f"taken in as number {result.server_no}")


@not_enrolled_commands.command("set-aside")
@click.argument("numbers", type=NUMBER, nargs=-1, required=True)
@WHY_OPTION
@WHO_OPTION
@DATA_OPTION
def set_aside_command(
    numbers: tuple[int, ...], reason: str, who: str, data: Path | None
) -> None:
    """Say that NUMBERS of the list were looked at and are not used."""
    app, why = open_data(data), reason.strip()[: not_enrolled.LONGEST_WHY]
    if not why:
        raise click.UsageError("--reason: say why they are set aside.")
    with app.app_context(), writing() as session:
        done = not_enrolled.set_aside(session, numbers, why, who, datetime.now(UTC))
    click.echo(f"{done} set aside")
