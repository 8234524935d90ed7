"""``step-in-hand key show|renew`` and ``step-in-hand pack publish|withdraw``."""

from __future__ import annotations

from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import click
from flask import Flask
from sqlalchemy.orm import Session

from webapp.db import reading, writing
from webapp.packs.service import (
    build_pack,
    doubt_lines,
    doubts,
    read_route,
    route_folder,
    route_key,
)
from webapp.places import service as places
from webapp.publish import service
from webapp.publish.service import LONGEST_REASON, KeyFile, NothingToWithdraw
from webapp.terminal import DATA_OPTION, open_data

WHO = "command line"


@click.group("key")
def key_commands() -> None:
    """Show or renew the key that signs the index of packs."""


@key_commands.command("show")
@DATA_OPTION
def show_command(data: Path | None) -> None:
    """Show the public keys and where the private ones are kept."""
    file = _file(open_data(data))
    key = file.load()
    if key is None:
        raise click.ClickException(
            f"{file.path} is not there yet: the key is made at the first start."
        )
    _show(key.as_served(), file.path, key.made_at)


@key_commands.command("renew")
@click.option(
    "--lost",
    is_flag=True,
    help="The old key is lost: nothing hands over, every tablet is enrolled again.",
)
@DATA_OPTION
def renew_command(lost: bool, data: Path | None) -> None:
    """Make a new key; the old one signs the hand-over and is then gone."""
    app = open_data(data)
    with app.app_context(), writing() as session:
        key = service.renew_key(session, _file(app), datetime.now(UTC), WHO, lost=lost)
    _show(key.as_served(), _file(app).path, key.made_at)
    click.echo("Keep a backup of this file where the database's backup is not.")
    if lost:
        click.echo("Every tablet refuses the packs until it is enrolled again.")


@click.command("publish")
@click.argument("route")
@DATA_OPTION
def publish_command(route: str, data: Path | None) -> None:
    """Build the pack of ROUTE, a folder or a demo route's name, and publish it."""
    try:
        folder = route_folder(route)
    except LookupError as unknown:
        raise click.BadParameter(str(unknown.args[0]), param_hint="ROUTE") from None
    app = open_data(data, begin=True)
    with app.app_context(), reading() as session:
        register = places.entries(session, route_key(folder))
        served = _listed(session, route_key(folder))
        former = _base(session, route_key(folder))
    for line in doubt_lines(doubts(read_route(folder, register), former), route):
        click.echo(line, err=True)
    pack = build_pack(folder, register=register)
    with app.app_context(), writing() as session:
        now = datetime.now(UTC)
        service.ready(session, _file(app), now)
        index = service.publish(session, pack, now, _file(app).load())
        changes = places.compared(served, _listed(session, pack.route))
    for stands, place in changes:
        click.echo(f"listed place {stands}: {place['name']} ({place['source']})")
    click.echo(f"{pack.route}: pack {pack.sha256[:8]} is in index {index.serial}")


def _base(session: Session, route: str) -> dict[str, Any] | None:
    """Return the base file of the served pack of a route; None while none is served."""
    packs = {one["key"]: one["pack"] for one in service.current(session).routes}
    return service.base(session, packs[route]) if route in packs else None


def _listed(session: Session, route: str) -> list[dict[str, Any]]:
    """Return what the served pack of a route lists."""
    return list((_base(session, route) or {}).get("listed", []))


@click.command("withdraw")
@click.argument("route")
@click.option("--reason", required=True, help="Drivers read it; plain words.")
@DATA_OPTION
def withdraw_command(route: str, reason: str, data: Path | None) -> None:
    """Take the packs of ROUTE back: tablets that synced show no advice from them."""
    said = " ".join(reason.split())
    if not said or len(said) > LONGEST_REASON:
        raise click.BadParameter(
            f"say why in 1 to {LONGEST_REASON} characters.", param_hint="--reason"
        )
    app = open_data(data)
    try:
        with app.app_context(), writing() as session:
            now = datetime.now(UTC)
            service.ready(session, _file(app), now)
            key = _file(app).load()
            assert key is not None
            index = service.withdraw(session, route, said, now, key, WHO)
    except NothingToWithdraw as error:
        raise click.BadParameter(str(error), param_hint="ROUTE") from None
    click.echo(
        f"{route}: withdrawn in index {index.serial}. A tablet knows it from its next "
        "contact on; publishing brings advice back."
    )


def _file(app: Flask) -> KeyFile:
    file: KeyFile = app.extensions["depot_key"]
    return file


def _show(key: dict[str, Any], path: Path, made_at: str) -> None:
    click.echo(f"key     {key['key_id']}")
    click.echo(f"made    {made_at}")
    click.echo(f"ed25519 {key['ed25519']}")
    click.echo(f"p256    {key['p256']}")
    click.echo(f"renewed {len(key['handovers'])} times")
    click.echo(f"file    {path}")
