"""The command `step-in-hand`: every error is one plain line with its cure and exit code 2."""

from __future__ import annotations

import errno
import os
import sys
from collections.abc import Callable
from pathlib import Path
from typing import Any

import click
from flask import Flask
from sqlalchemy.exc import DBAPIError

import webapp
from webapp.commands import demo as demo_mark
from webapp.commands import prepare, samples, server
from webapp.commands import proposals as publishing
from webapp.commands.approach import approach_command
from webapp.commands.backup import backup_command, restore_command
from webapp.commands.checks import checks_command, lessons_command
from webapp.commands.depot import declare_command, keep_commands, shell_commands
from webapp.commands.key import key_commands
from webapp.commands.not_enrolled import not_enrolled_commands
from webapp.commands.packs import pack_commands
from webapp.commands.people import invite, people_commands
from webapp.commands.recorder import recorder_command
from webapp.commands.reports import carried_command, report_commands
from webapp.commands.terminal import DATA_OPTION, shown
from webapp.commands.warnings import warning_commands
from webapp.commands.weather import weather_commands
from webapp.packs.faults import RouteFaults
from webapp.plain import config, ondisk
from webapp.publish import builder
from webapp.store.db import trouble as database_trouble
from webapp.web import logs

# No right to write, or a disk that is mounted to be read.
NOT_WRITABLE = (errno.EACCES, errno.EPERM, errno.EROFS)
PORT_HELP = "Port to listen on; 0 takes any free one."


@click.group()
@click.version_option(webapp.__version__, prog_name="step-in-hand")
def cli() -> None:
    """Advice for braking on slippery rail, and grip reports to the depot."""


@cli.command()
@click.option("--port", type=click.IntRange(0, 65535), default=8000, help=PORT_HELP)
@click.option(
    "--samples/--no-samples",
    "with_samples",
    default=True,
    help="Put a few invented reports into an empty data folder.",
)
@click.option(
    "--lines/--no-lines",
    "with_lines",
    default=True,
    help="Build and publish the two demo lines.",
)
@DATA_OPTION
def demo(port: int, with_samples: bool, with_lines: bool, data: Path | None) -> None:
    """Build both demo lines, start the server, print the address."""
    ondisk.keep_to_oneself()
    app = webapp.create_app(_settings(data, DEMO=True))
    prepare.check_whole(app)
    prepare.migrate(app)
    demo_mark.begin(app)
    if with_lines:
        prepare.publish_demo(app, say, progress)
    prepare.sign_index(app)
    if with_samples:
        samples.add(app, say)
    server.run(app, "127.0.0.1", port, _announcing(app))


@cli.command()
@click.option("--host", default="127.0.0.1", help="Address to listen on.")
@click.option("--port", type=click.IntRange(0, 65535), default=8000, help=PORT_HELP)
@DATA_OPTION
def serve(host: str, port: int, data: Path | None) -> None:
    """Start the server on the data that is there."""
    logs.begin()
    ondisk.keep_to_oneself()
    app = webapp.create_app(_settings(data))
    prepare.refuse_shared(app)
    prepare.check_whole(app)
    prepare.migrate(app)
    demo_mark.refuse(app)
    prepare.sign_index(app)
    builder.start_if_waiting(app)
    server.run(app, host, port, _announcing(app))


publishing.attach(pack_commands)
report_commands.add_command(carried_command)
cli.add_command(key_commands)
cli.add_command(approach_command)
cli.add_command(checks_command)
cli.add_command(lessons_command)
cli.add_command(pack_commands)
cli.add_command(recorder_command)
cli.add_command(shell_commands)
cli.add_command(warning_commands)
cli.add_command(weather_commands)
cli.add_command(people_commands)
cli.add_command(report_commands)
cli.add_command(not_enrolled_commands)
cli.add_command(backup_command)
cli.add_command(restore_command)
cli.add_command(keep_commands)
cli.add_command(declare_command)


def say(line: str) -> None:
    """Print one line of progress at once, also into a pipe."""
    click.echo(line)
    sys.stdout.flush()


def progress(what: str, done: int, of: int) -> None:
    """Rewrite one line on a terminal; into a pipe print one line a part."""
    line = f"  {what}: {done} of {of} targets"
    if sys.stdout.isatty():
        click.echo(f"\r\033[K{line}", nl=done == of)
        sys.stdout.flush()
    elif done == of:
        say(line)


def _announcing(app: Flask) -> Callable[[str], None]:
    def announce(address: str) -> None:
        say(f"Step in Hand is at {address}  (Ctrl-C stops it)")
        host = app.config.get("PUBLIC_HOST")
        line = invite(app, f"https://{host}" if host else address)
        if line:
            say(line)

    return announce


def _settings(data: Path | None, **more: Any) -> dict[str, Any]:
    return more if data is None else {"DATA": data, **more}


def main() -> None:
    """Run the command line."""
    try:
        cli.main(standalone_mode=False)
    except click.exceptions.Abort:
        sys.exit(130)
    except click.ClickException as error:
        _fail(error.format_message())
    except (config.SettingsError, RouteFaults) as error:
        _fail(str(error))
    except DBAPIError as error:
        _fail(database_trouble(error))
    except OSError as error:
        where, why = error.filename or os.getcwd(), error.strerror or error
        cure = " Let this user write there, or name another folder with --data."
        _fail(f"{where}: {why}.{cure if error.errno in NOT_WRITABLE else ''}")


def _fail(line: str) -> None:
    click.echo(f"step-in-hand: {shown(line)}", err=True)
    sys.exit(2)


if __name__ == "__main__":
    main()
