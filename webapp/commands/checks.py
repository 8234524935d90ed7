"""``step-in-hand checks`` and ``lessons``: the figures of two pages, worked out again."""

from __future__ import annotations

import click

from webapp.pages.checks import checks, collect, show
from webapp.pages.lessons import kept, work
from webapp.pages.lessons import show as lessons


@click.command("checks")
@click.option(
    "--write", is_flag=True, help="Keep the rows for the page of an installed server."
)
def checks_command(write: bool) -> None:
    """Run every check against a published figure and print the table."""
    try:
        found = collect.run()
    except collect.NoCheckout as missing:
        if write:
            raise click.UsageError(f"nothing to write: {missing}") from None
        found = checks.stored()
        click.echo(f"As kept with this version, not run again: {missing}.")
    for line in show.lines(found):
        click.echo(line)
    if write:
        checks.write(found)
        click.echo(f"Written to {checks.STORED}.")
    if found.failing:
        raise click.ClickException(
            f"{found.failing} checks do not hold; each row above says how far it is off"
        )


@click.command("lessons")
@click.option("--write", is_flag=True, help="Keep the figures for the page of the server.")
def lessons_command(write: bool) -> None:
    """Work out the two lessons and the two brakes and print them as tables."""
    found = work.run()
    for line in lessons.lines(found):
        click.echo(line)
    if write:
        kept.write(found)
        click.echo(f"Written to {kept.STORED}.")
