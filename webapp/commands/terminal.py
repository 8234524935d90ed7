"""What every command at the server's terminal has: a data folder, and the way to open it."""

from __future__ import annotations

import secrets
from collections.abc import Mapping
from pathlib import Path
from typing import Any

import click
from flask import Flask

from webapp.plain import config

DATA_OPTION = click.option(
    "--data",
    type=click.Path(file_okay=False, path_type=Path),
    help="Data folder; without it $STEP_IN_HAND_DATA or the user's own.",
)


LITE = "sqlite:///"


def shown(text: str) -> str:
    """Return words of somebody else so that a terminal shows them and obeys none of them.

    A file that was carried here may hold what moves the cursor or sets a window's title.
    """
    return "".join(
        one if one.isprintable() or one == "\n" else one.encode("unicode_escape").decode()
        for one in text
    )


def say(text: str) -> None:
    """Print a line with words of somebody else in it."""
    click.echo(shown(text))


def open_data(
    data: Path | None, *, begin: bool = False, adopt: bool = False, **more: Any
) -> Flask:
    """Open a data folder with its tables as this version has them; nothing is served.

    ``more`` are settings that win over the environment. Only with ``begin`` is a depot made
    where none is: a mistyped folder would say that no warning stands, or keep the reports
    that somebody carried here. With ``adopt`` folder and database are made one depot.
    """
    import webapp  # the application imports the rooms, and they this
    from webapp.commands import prepare
    from webapp.plain import ondisk

    ondisk.keep_to_oneself()
    # No log-in is ever signed with this key, so a command needs no setting for it.
    given: dict[str, Any] = {"SECRET_KEY": secrets.token_hex(32), **more}
    given = given if data is None else {**given, "DATA": data}
    settings = config.collect(given)
    if not begin:
        depot_folder(settings)
    elif not _held(settings):
        click.echo(
            f"{settings['DATA']}: no depot was there, so a new one begins. If you meant "
            "another folder, publish once more and name it with --data.",
            err=True,
        )
    app = webapp.create_app(given)
    prepare.migrate(app, adopt=adopt)
    return app


def depot_folder(settings: Mapping[str, Any]) -> Path:
    """Return the data folder; with a click error if no depot has its database there."""
    if not _held(settings):
        url = str(settings["SQLALCHEMY_DATABASE_URI"])
        raise click.ClickException(
            f"{url.removeprefix(LITE)}: there is no database, so nothing was done. "
            "Name the depot's data folder with --data."
        )
    return Path(settings["DATA"])


def _held(settings: Mapping[str, Any]) -> bool:
    """Whether a database is there; one of PostgreSQL is asked when it is opened."""
    url = str(settings["SQLALCHEMY_DATABASE_URI"])
    return not url.startswith(LITE) or Path(url.removeprefix(LITE)).is_file()
