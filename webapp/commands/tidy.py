"""``step-in-hand keep tidy``."""

from __future__ import annotations

from datetime import UTC, datetime
from pathlib import Path

import click

from webapp.commands.terminal import DATA_OPTION, open_data
from webapp.records import privacy
from webapp.store.db import reading, writing

WHO = "keep tidy"


@click.group("keep")
def keep_commands() -> None:
    """What is kept of people, and for how long; see also /desk/kept."""


@keep_commands.command("tidy")
@click.option("--dry-run", is_flag=True, help="Print the counts and change nothing.")
@click.option("--yes", is_flag=True, help="Do not ask, for a timer.")
@DATA_OPTION
def tidy_command(dry_run: bool, yes: bool, data: Path | None) -> None:
    """Delete names, words and tablets of reports past their time; the grip facts stay."""
    app = open_data(data)
    rules, now = privacy.Rules.of(app.config), datetime.now(UTC)
    with app.app_context():
        with reading() as session:
            due = privacy.due(session, rules, now)
        for line in lines(due, rules):
            click.echo(line)
        if dry_run or not (due.names or due.words):
            return
        if not yes:
            click.confirm("Delete these for good?", abort=True)
        with writing() as session:
            done = privacy.tidy(session, rules, WHO, now)
    click.echo(f"Done: {done.names} names, {done.words} reports anonymised.")
    click.echo("Backups made before now still hold them, until they are replaced.")


def lines(due: privacy.Due, rules: privacy.Rules) -> list[str]:
    """Say what would go, and what is left and why."""
    return [
        f"Names of reports older than {rules.names} days: {due.names}",
        f"Names, words and tablets of reports older than {rules.words} days: {due.words}",
        f"Left, not yet reviewed: {due.waiting}",
        f"Left, named in a seal or a warning from it lives or is drafted: {due.warned}",
    ]
