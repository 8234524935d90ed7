"""``step-in-hand approach``: one approach with every intermediate figure."""

from __future__ import annotations

import json

import click

from webapp.commands.approach_work import NoSuchThing, lines, work_out
from webapp.packs.service import route_folder


@click.command("approach")
@click.argument("route")
@click.argument("stop")
@click.option("--train", required=True, help="Train as it runs, for instance disc-4.")
@click.option("--rail", required=True, help="Rail state, for instance damp.")
@click.option("--speed", required=True, type=float, help="Approach speed as posted.")
@click.option("--season/--no-season", default=False, help="Places listed for a season count.")
@click.option("--json", "as_json", is_flag=True, help="Print JSON.")
def approach_command(
    route: str, stop: str, train: str, rail: str, speed: float, season: bool, as_json: bool
) -> None:
    """Print one approach of ROUTE to STOP (for instance kettle-bay harrowmere/down)."""
    try:
        figures = work_out(route_folder(route), stop, train, rail, speed, season)
    except (NoSuchThing, LookupError) as problem:
        raise click.UsageError(str(problem.args[0])) from None
    if as_json:
        click.echo(json.dumps(figures, indent=2, allow_nan=False))
        return
    for line in lines(figures):
        click.echo(line)
