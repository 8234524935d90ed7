"""What is done to a depot at its server: restored by hand, tidied, the app's files off."""

from __future__ import annotations

from datetime import UTC, datetime
from pathlib import Path

import click

from webapp.commands.terminal import DATA_OPTION, depot_folder, open_data
from webapp.plain import config
from webapp.publish.declared import declare
from webapp.records import privacy
from webapp.store.db import reading, writing
from webapp.tablet import build

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


TIDY = "keep tidy"


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
            done = privacy.tidy(session, rules, TIDY, now)
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


@click.group("shell")
def shell_commands() -> None:
    """Let tablets keep the app's files, or take them back when a version is broken."""


@shell_commands.command("off")
@DATA_OPTION
def off_command(data: Path | None) -> None:
    """Take the app's files off every tablet that asks; its reports stay on it."""
    build.switch(_folder(data), on=False)
    click.echo("Off: each tablet gives up the app's files when it next asks, and opens only")
    click.echo("where there is signal. Unsent reports stay on it and are sent from there.")


@shell_commands.command("on")
@DATA_OPTION
def on_command(data: Path | None) -> None:
    """Let tablets keep the app's files again."""
    build.switch(_folder(data), on=True)
    click.echo("On: each tablet keeps the app's files again from its next start.")


def _folder(data: Path | None) -> Path:
    """Return the folder that a server reads the switch from."""
    found = depot_folder(config.collect({} if data is None else {"DATA": data}))
    if not found.is_dir():
        raise click.ClickException(
            f"{found}: there is no such folder, so nothing was switched. "
            "Name the depot's data folder with --data."
        )
    return found
