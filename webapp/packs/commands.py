"""``step-in-hand pack build`` and ``pack check``."""

from __future__ import annotations

import sys
from pathlib import Path

import click

from .faults import Fault
from .files import Pack, PackTooLarge
from .service import RouteFaults, build_pack, check_folder, route_folder, write_files

FAULTY = 2


@click.group("pack")
def pack_commands() -> None:
    """Build route packs from route folders, and check the folders."""


@pack_commands.command("build")
@click.argument("route")
@click.option(
    "--out",
    type=click.Path(file_okay=False, path_type=Path),
    help="Folder for the pack's files; without it only sizes are shown.",
)
def build_command(route: str, out: Path | None) -> None:
    """Build the pack of ROUTE, a folder or the name of a demo route."""
    folder = _folder(route)
    try:
        pack = build_pack(folder, _tell)
    except RouteFaults as found:
        _refuse(folder, found.faults)
        raise AssertionError("unreachable") from None
    except PackTooLarge as problem:
        click.echo(f"No pack: {problem}", err=True)
        sys.exit(FAULTY)
    _show(pack)
    if out is not None:
        written = write_files(pack, out)
        click.echo(f"{len(written)} files in {out}")


@pack_commands.command("check")
@click.argument("route")
def check_command(route: str) -> None:
    """Check ROUTE, a folder or the name of a demo route, and list every fault."""
    folder = _folder(route)
    faults = check_folder(folder)
    if faults:
        _refuse(folder, faults)
    click.echo(f"{folder}: no faults")


def _folder(route: str) -> Path:
    try:
        return route_folder(route)
    except LookupError as unknown:
        raise click.BadParameter(str(unknown.args[0]), param_hint="ROUTE") from None


def _refuse(folder: Path, faults: list[Fault]) -> None:
    for fault in faults:
        click.echo(str(fault), err=True)
    count = "1 fault" if len(faults) == 1 else f"{len(faults)} faults"
    click.echo(f"{folder}: {count}, no pack", err=True)
    sys.exit(FAULTY)


def _tell(what: str, done: int, of: int) -> None:
    """Rewrite one line on a terminal; elsewhere print a line at the end of each part."""
    line = f"{what}: {done} of {of} targets"
    if sys.stderr.isatty():
        click.echo(f"\r\033[K{line}", err=True, nl=done == of)
    elif done == of:
        click.echo(line, err=True)


def _show(pack: Pack) -> None:
    for file in pack.files:
        click.echo(f"{file.sha256}  {len(file.gz):>7}  {file.name}")
    click.echo(f"pack {pack.sha256}: {pack.gz_size} bytes compressed")
