"""``step-in-hand pack build|check|confirm``."""

from __future__ import annotations

import json
import sys
from collections.abc import Sequence
from dataclasses import asdict
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import click

from webapp.commands.terminal import open_data
from webapp.lines import in_use
from webapp.packs.doubts import Doubt, doubts
from webapp.packs.faults import Fault, RouteFaults
from webapp.packs.files import Pack, PackTooLarge
from webapp.packs.read import read_route
from webapp.packs.service import (
    NoSuchDoubt,
    build_pack,
    check_folder,
    confirm_doubts,
    doubt_lines,
    route_folder,
    route_key,
    write_files,
)
from webapp.publish import service as published
from webapp.store.db import reading

FAULTY = 2
#: A name or a reason is read in a list; a longer one is an essay.
LONGEST_WORDS = 200
IN_USE = click.option(
    "--data",
    type=click.Path(file_okay=False, path_type=Path),
    help="The depot's data folder: says also what moved against the pack in use there.",
)


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
    for line in doubt_lines(doubts(read_route(folder)), route):
        click.echo(line, err=True)
    _show(pack)
    if out is not None:
        written = write_files(pack, out)
        click.echo(f"{len(written)} files in {out}")


@pack_commands.command("check")
@click.argument("route")
@IN_USE
@click.option("--json", "as_json", is_flag=True, help="Print faults and doubts as JSON.")
def check_command(route: str, data: Path | None, as_json: bool) -> None:
    """Check ROUTE, a folder or a demo route's name: every fault, then every doubt.

    A fault must be mended before a pack is built. A doubt is something odd: mend it, or
    confirm it with `step-in-hand pack confirm`. Doubts are looked for once there is no
    fault. The exit code is 2 with faults, else 0.
    """
    folder = _folder(route)
    faults = check_folder(folder)
    found = [] if faults else doubts(read_route(folder), _in_use(folder, data))
    if as_json:
        click.echo(json.dumps(_as_json(folder, faults, found), indent=1, ensure_ascii=False))
        sys.exit(FAULTY if faults else 0)
    if faults:
        _refuse(folder, faults)
    for line in doubt_lines(found, route):
        click.echo(line)
    confirmed = sum(not one.open for one in found)
    click.echo(f"{folder}: no faults; {confirmed} of {len(found)} doubts confirmed")


@pack_commands.command("confirm")
@click.argument("route")
@click.argument("codes", metavar="DOUBT...", nargs=-1, required=True)
@click.option("--who", required=True, help="Who looked it up; a name or a role.")
@click.option("--reason", required=True, help="Why the row is right; plain words.")
@IN_USE
def confirm_command(
    route: str, codes: tuple[str, ...], who: str, reason: str, data: Path | None
) -> None:
    """Confirm doubts of ROUTE by their codes: the rows are right as they are.

    It is written to confirmed.csv in the route's folder. A doubt is asked again when one of
    its rows changes.
    """
    folder = _folder(route)
    name, why = _words(who, "--who"), _words(reason, "--reason")
    today = datetime.now(UTC).astimezone().date()
    try:
        found = confirm_doubts(folder, codes, name, why, today, _in_use(folder, data))
    except RouteFaults as faulty:
        _refuse(folder, faulty.faults)
        raise AssertionError("unreachable") from None
    except NoSuchDoubt as problem:
        hint = f"{problem}; see step-in-hand pack check {route}"
        raise click.BadParameter(hint, param_hint="DOUBT") from None
    for one in found:
        click.echo(f"confirmed by {name}: {one.file}, {one.place}: {one.message}")


def _words(text: str, option: str) -> str:
    """Return words on one line, as confirmed.csv can keep them."""
    said = " ".join(text.split())
    if not said or len(said) > LONGEST_WORDS or not said.isprintable():
        say = f"say it in 1 to {LONGEST_WORDS} characters that can be shown."
        raise click.BadParameter(say, param_hint=option)
    return said


def _in_use(folder: Path, data: Path | None) -> dict[str, Any] | None:
    """Return the base file of this route's pack in use at the depot, if there is one."""
    if data is None:
        return None
    app = open_data(data)
    with app.app_context(), reading() as session:
        packs = {one["key"]: one["pack"] for one in published.current(session).routes}
        key = route_key(folder)
        return in_use.part(session, packs[key], "base") if key in packs else None


def _as_json(folder: Path, faults: Sequence[Fault], found: Sequence[Doubt]) -> dict[str, Any]:
    return {
        "route": folder.name,
        "faults": [asdict(fault) for fault in faults],
        "doubts": [asdict(one) | {"open": one.open} for one in found],
    }


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
