"""What every command at the server's terminal has: a data folder, and the way to open it."""

from __future__ import annotations

import secrets
from collections.abc import Mapping
from pathlib import Path
from typing import Any

import click
from flask import Flask

from webapp import config

DATA_OPTION = click.option(
    "--data",
    type=click.Path(file_okay=False, path_type=Path),
    help="Data folder; without it $STEP_IN_HAND_DATA or the user's own.",
)


LITE = "sqlite:///"


def open_data(data: Path | None, *, begin: bool = False, **more: Any) -> Flask:
    """Open a data folder with its tables as this version has them; nothing is served.

    ``more`` are settings that win over the environment. Only with ``begin`` is a depot made
    where none is: a mistyped folder would say that no warning stands, or keep the reports
    that somebody carried here.
    """
    import webapp  # the application imports the rooms, and they this
    from webapp import prepare

    # No log-in is ever signed with this key, so a command needs no setting for it.
    given: dict[str, Any] = {"SECRET_KEY": secrets.token_hex(32), **more}
    given = given if data is None else {**given, "DATA": data}
    if not begin:
        depot_folder(config.collect(given))
    app = webapp.create_app(given)
    prepare.migrate(app)
    return app


def depot_folder(settings: Mapping[str, Any]) -> Path:
    """Return the data folder; with a click error if no depot has its database there."""
    url = str(settings["SQLALCHEMY_DATABASE_URI"])
    if url.startswith(LITE) and not Path(url.removeprefix(LITE)).is_file():
        raise click.ClickException(
            f"{url.removeprefix(LITE)}: there is no database, so nothing was done. "
            "Name the depot's data folder with --data."
        )
    return Path(settings["DATA"])
