"""``step-in-hand weather read``: a line's weather from a file, for a depot's own job too."""

from __future__ import annotations

from datetime import UTC, datetime
from pathlib import Path
from zoneinfo import ZoneInfo

import click
from sqlalchemy.orm import Session

from webapp.commands.terminal import DATA_OPTION, open_data, say, shown
from webapp.lines import in_use
from webapp.lines.base import Base
from webapp.records.weather import held, take_in
from webapp.records.weather.faults import WeatherFaults
from webapp.records.weather.outlook import outlook
from webapp.store.db import reading, writing

#: A file in another form has a fault in each row: as many as a person reads.
MOST_FAULTS = 40


@click.group("weather")
def weather_commands() -> None:
    """Give the depot the weather of a line; nothing is ever fetched from here."""


@weather_commands.command("read")
@click.argument("file", type=click.Path(exists=True, dir_okay=False, path_type=Path))
@click.option("--line", required=True, help="Key of the line, as its pack has it.")
@click.option("--station", default="", help="Where the weather is of.")
@click.option("--at", nargs=2, type=float, help="Latitude and longitude of that station.")
@click.option("--who", default="weather read", help="Who takes it in, for the audit.")
@DATA_OPTION
def read_command(
    file: Path,
    line: str,
    station: str,
    at: tuple[float, float] | None,
    who: str,
    data: Path | None,
) -> None:
    """Take in FILE, hours as CSV or as the JSON of hourly arrays; it replaces what is held."""
    if at is not None and not (abs(at[0]) <= 90 and abs(at[1]) <= 180):
        raise click.UsageError("--at: latitude within 90 degrees, then longitude within 180.")
    app, now = open_data(data), datetime.now(UTC)
    zone, content = ZoneInfo(app.config["DESK_ZONE"]), file.read_bytes()
    with app.app_context():
        try:
            with writing() as session:
                bases = in_use.bases(session)
                if line not in bases:
                    known = ", ".join(sorted(bases)) or "none: publish a pack first"
                    raise click.UsageError(f"--line {line}: no such line. In use: {known}.")
                where = held.Station(station, at)
                take_in.file(session, bases[line], content, file.name, where, zone, who, now)
        except WeatherFaults as faults:
            raise click.ClickException(_told(faults)) from None
        except take_in.ColumnsUnknown:
            raise click.ClickException(
                f"{file.name}: its columns are not named as here. Take it in once at the "
                f"desk, at /desk/weather/{line}, and say there which is which."
            ) from None
        with reading() as session:
            _tell(session, bases[line], line, zone, now)


def _told(faults: WeatherFaults) -> str:
    lines = str(faults).split("\n")
    more = len(lines) - MOST_FAULTS
    end = [f"and {more} more."] if more > 0 else []
    return "\n".join(["nothing was taken in:", *lines[:MOST_FAULTS], *end])


def _tell(session: Session, base: Base, line: str, zone: ZoneInfo, now: datetime) -> None:
    """Print what is proposed now, and what is in doubt."""
    row = held.latest(session, line)
    try:
        found = outlook(base, row, held.changes(session, line, now), zone, now)
    except ValueError as why:
        say(f"{line}: taken in, but nothing can be proposed: {why}.")
        return
    first = found.hours[0]
    reasons = "; ".join(first.reasons) or "too little is known"
    say(f"{line}: taken in. Now: {first.state or 'nothing proposed'} ({reasons}).")
    for sentence in found.doubts:
        click.echo(shown(sentence))
