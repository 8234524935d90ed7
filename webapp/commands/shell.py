"""``step-in-hand shell off|on``: whether tablets keep the app's own files."""

from __future__ import annotations

from pathlib import Path

import click

from webapp.commands.terminal import DATA_OPTION, depot_folder
from webapp.plain import config
from webapp.tablet import build


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
