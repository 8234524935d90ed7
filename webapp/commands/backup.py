"""``step-in-hand backup`` and ``restore``."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import click

import webapp
from webapp.commands import restore
from webapp.commands.terminal import DATA_OPTION
from webapp.plain import config
from webapp.store import backup
from webapp.store.archive import KEY, NotWhole
from webapp.store.copies import StoreTrouble
from webapp.store.whole import Damaged

FILE = click.Path(dir_okay=False, path_type=Path)
TROUBLE = (backup.NoRoom, restore.Refused, NotWhole, Damaged, StoreTrouble)


@click.command("backup")
@click.argument("file", type=FILE)
@click.option(
    "--with-key",
    is_flag=True,
    help="Put the signing key in: whoever reads the file can then sign packs.",
)
@DATA_OPTION
def backup_command(file: Path, with_key: bool, data: Path | None) -> None:
    """Copy the depot into FILE while its server runs."""
    given = _settings(data)
    with _in_words():
        made = backup.make(
            given["DATA"],
            given["SQLALCHEMY_DATABASE_URI"],
            file,
            with_key=with_key,
            version=webapp.__version__,
        )
    size = file.stat().st_size / 1024 / 1024
    rows = sum(made.counts.values())
    click.echo(f"{file}: {rows} rows, checked, {size:.1f} MiB, readable by you alone")
    if not with_key:
        click.echo(
            f"The signing key is not in it: keep a copy of {given['DATA'] / KEY} apart."
        )


@click.command("restore")
@click.argument("file", type=FILE)
@click.option(
    "--replace",
    is_flag=True,
    help="Take the place of the data folder that is there; it is kept under another name.",
)
@DATA_OPTION
def restore_command(file: Path, replace: bool, data: Path | None) -> None:
    """Put FILE back as a data folder; its server must not run."""
    given = _settings(data)
    if not file.is_file():
        raise click.ClickException(f"{file}: there is no such file.")
    with _in_words():
        done = restore.restore(
            file, given["DATA"], given["SQLALCHEMY_DATABASE_URI"], replace=replace
        )
    at = done.manifest.made_at
    click.echo(f"{given['DATA']}: as it was {at}, checked")
    if done.former:
        click.echo(f"What was there before is kept as {done.former}")
    if not done.has_key:
        click.echo(
            f"The signing key is missing: put your copy to {given['DATA'] / KEY}, or no pack "
            "can be signed."
        )
    click.echo(
        f"Not in it, since it came after {at}: reports that arrived, warnings told and ended, "
        "packs withdrawn, tablets and accounts shut. Ask the signaller what is open, and do "
        "these again, before tablets are let in."
    )


def _settings(data: Path | None) -> dict[str, Any]:
    """Return folder and database as the server would find them; nothing is opened."""
    return config.collect({} if data is None else {"DATA": data})


@contextmanager
def _in_words() -> Iterator[None]:
    try:
        yield
    except Damaged as fault:
        raise click.ClickException(f"the database is damaged: {fault}") from None
    except TROUBLE as trouble:
        raise click.ClickException(str(trouble)) from None
