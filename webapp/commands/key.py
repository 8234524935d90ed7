"""``step-in-hand key show|renew``."""

from __future__ import annotations

from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import click
from flask import Flask

from webapp.commands.terminal import DATA_OPTION, open_data
from webapp.publish import service
from webapp.publish.keys import KeyFile
from webapp.store.db import writing

WHO = "command line"


@click.group("key")
def key_commands() -> None:
    """Show or renew the key that signs the index of packs."""


@key_commands.command("show")
@DATA_OPTION
def show_command(data: Path | None) -> None:
    """Show the public keys and where the private ones are kept."""
    file = _file(open_data(data))
    key = file.load()
    if key is None:
        raise click.ClickException(
            f"{file.path} is not there yet: the key is made at the first start."
        )
    _show(key.as_served(), file.path, key.made_at)


@key_commands.command("renew")
@click.option(
    "--lost",
    is_flag=True,
    help="The old key is lost: nothing hands over, every tablet is enrolled again.",
)
@DATA_OPTION
def renew_command(lost: bool, data: Path | None) -> None:
    """Make a new key; the old one signs the hand-over and is then gone."""
    app = open_data(data)
    with app.app_context(), writing() as session:
        key = service.renew_key(session, _file(app), datetime.now(UTC), WHO, lost=lost)
    _show(key.as_served(), _file(app).path, key.made_at)
    click.echo("Keep a backup of this file where the database's backup is not.")
    if lost:
        click.echo("Every tablet refuses the packs until it is enrolled again.")


def _file(app: Flask) -> KeyFile:
    file: KeyFile = app.extensions["depot_key"]
    return file


def _show(key: dict[str, Any], path: Path, made_at: str) -> None:
    click.echo(f"key     {key['key_id']}")
    click.echo(f"made    {made_at}")
    click.echo(f"ed25519 {key['ed25519']}")
    click.echo(f"p256    {key['p256']}")
    click.echo(f"renewed {len(key['handovers'])} times")
    click.echo(f"file    {path}")
