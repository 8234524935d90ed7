"""``step-in-hand recorder``: dry brake tests laid over what a train is planned with."""

from __future__ import annotations

from pathlib import Path

import click

from webapp.packs.read import read_route
from webapp.packs.service import route_folder
from webapp.recorder.columns import read_mapping
from webapp.recorder.service import TraceFaults
from webapp.recorder.steps import CannotSay, find, lines

_FILE = click.Path(exists=True, dir_okay=False, path_type=Path)


@click.command("recorder")
@click.argument("file", type=_FILE)
@click.option("--train", required=True, help="Train as it ran, for instance disc-4.")
@click.option("--route", required=True, help="Route folder, or the name of a demo route.")
@click.option("--direction", required=True, help="Direction of travel, for instance up.")
@click.option("--start", help="Place of the first row as posted, if the file has none.")
@click.option("--columns", type=_FILE, help="TOML file: which column of the file is which.")
def recorder_command(
    file: Path, train: str, route: str, direction: str, start: str | None, columns: Path | None
) -> None:
    """Read the dry brake tests of FILE: do the planned rates fit?

    FILE is CSV with the columns time, speed_kmh (or speed_mph, speed_mps), step and, where
    known, wsp, at_m, pressure. Only what is named is read; nothing is stored. Put what it
    proposes into trains.toml yourself, and build the pack again.
    """
    try:
        folder = route_folder(route)
    except LookupError as unknown:
        raise click.BadParameter(str(unknown.args[0]), param_hint="--route") from None
    try:
        mapping = read_mapping(columns) if columns else None
        found = find(
            file.read_bytes(), file.name, read_route(folder), train, direction, start, mapping
        )
    except (TraceFaults, CannotSay) as problem:
        raise click.ClickException(str(problem)) from None
    for line in lines(found):
        click.echo(line)
