"""What every command at the server's terminal has: a data folder, and the way to open it."""

from __future__ import annotations

import secrets
from pathlib import Path
from typing import Any

import click
from flask import Flask

DATA_OPTION = click.option(
    "--data",
    type=click.Path(file_okay=False, path_type=Path),
    help="Data folder; without it $STEP_IN_HAND_DATA or the user's own.",
)


def open_data(data: Path | None, **more: Any) -> Flask:
    """Open a data folder with its tables as this version has them; nothing is served.

    ``more`` are settings that win over the environment.
    """
    import webapp  # the application imports the rooms, and they this
    from webapp import prepare

    # No log-in is ever signed with this key, so a command needs no setting for it.
    given: dict[str, Any] = {"SECRET_KEY": secrets.token_hex(32), **more}
    app = webapp.create_app(given if data is None else {**given, "DATA": data})
    prepare.migrate(app)
    return app
