"""``step-in-hand people``: what only whoever sits at the server may do."""

from __future__ import annotations

import secrets
from datetime import UTC, datetime
from pathlib import Path

import click
from flask import Flask

from webapp.commands.terminal import DATA_OPTION, open_data
from webapp.plain import codes
from webapp.records.people import service, setup_code
from webapp.store.db import reading, writing

ON_SERVER = "at the server"


@click.group("people")
def people_commands() -> None:
    """Accounts of the desk, from the server's own terminal."""


@people_commands.command("list")
@DATA_OPTION
def list_command(data: Path | None) -> None:
    """List the accounts."""
    app = open_data(data)
    with app.app_context(), reading() as session:
        people = service.everyone(session)
    if not people:
        click.echo("No account yet. `step-in-hand people code` prints the code for the first.")
    for person in people:
        more = ", manages people" if person.manages_people else ""
        state = ", shut" if person.disabled_at else ""
        click.echo(f"{person.login}: {person.role}{more}{state}")


@people_commands.command("log-ins")
@DATA_OPTION
def log_ins_command(data: Path | None) -> None:
    """Print from which addresses people logged in, or tried to, in the last 30 days."""
    app = open_data(data)
    with app.app_context(), reading() as session:
        for one in service.addresses(session, datetime.now(UTC)):
            what = "let in" if one.let_in else "refused"
            click.echo(f"{one.at:%Y-%m-%d %H:%M:%S} UTC  {one.login}  {what}  {one.address}")


@people_commands.command("code")
@DATA_OPTION
def code_command(data: Path | None) -> None:
    """Print the code for making the first account."""
    app = open_data(data)
    with app.app_context(), reading() as session:
        empty = service.nobody_yet(session)
    if not empty:
        raise click.UsageError(
            "there are accounts already. Somebody who manages people makes more; "
            "`step-in-hand people password LOGIN` lets one back in."
        )
    click.echo(codes.shown(setup_code.made(app.config["DATA"])))


@people_commands.command("password")
@click.argument("login")
@DATA_OPTION
def password_command(login: str, data: Path | None) -> None:
    """Give LOGIN a new password, printed once; to be changed at the first log-in."""
    app, password = open_data(data), secrets.token_urlsafe(12)
    with app.app_context(), writing() as session:
        found = [one for one in service.everyone(session) if one.login == login]
        if not found:
            raise click.UsageError(
                f"there is no account {login}. `step-in-hand people list` names them."
            )
        now = datetime.now(UTC)
        service.set_password(session, found[0].id, password, ON_SERVER, now, own=False)
    click.echo(f"{login} logs in with {password} and then chooses an own password.")


def invite(app: Flask, address: str) -> str | None:
    """Return the line that a starting server prints while nobody has an account."""
    with app.app_context(), reading() as session:
        if not service.nobody_yet(session):
            return None
    code = codes.shown(setup_code.made(app.config["DATA"]))
    return f"The desk has no account yet: {address}/desk/set-up with the code {code}"
