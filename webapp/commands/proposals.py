"""``step-in-hand pack propose|publish|approve|drop|compare|history|back|withdraw|builder``."""

from __future__ import annotations

import json
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import UTC, date, datetime
from pathlib import Path
from typing import Any, TypeVar

import click
from flask import Flask
from sqlalchemy.orm import Session

from webapp.commands.terminal import DATA_OPTION, open_data
from webapp.lines import in_use
from webapp.lines.base import Base
from webapp.packs.compare import Comparison, Parts, compare
from webapp.packs.files import Pack
from webapp.packs.service import build_pack, open_doubts, route_folder, route_key
from webapp.publish import builder, proposals, service
from webapp.publish.compare_words import as_json, lines
from webapp.publish.keys import KeyFile
from webapp.publish.models import PackProposal
from webapp.publish.service import LONGEST_REASON, NothingToWithdraw
from webapp.records.people import service as people
from webapp.records.places import register as register_
from webapp.store.db import reading, writing

T = TypeVar("T")
HERE = "command line"
LOGIN = click.option(
    "--login", default=None, help="Your login at the desk; asks its password."
)
REASON = click.option("--reason", default="", help="Why; it goes into the audit.")


@dataclass(frozen=True)
class Built:
    """A pack made of a route folder, and what it changes."""

    pack: Pack
    found: Comparison
    listed: list[tuple[str, Any]]
    doubts: list[str]


@click.command("compare")
@click.argument("route")
@click.option("--json", "as_program", is_flag=True, help="All of it, for a program.")
@DATA_OPTION
def compare_command(route: str, as_program: bool, data: Path | None) -> None:
    """Build the pack of ROUTE and show what it changes; nothing is published."""
    app = open_data(data)
    built = _built(app, _folder(route))
    if as_program:
        click.echo(json.dumps(as_json(built.found), indent=1))
        return
    _show(built)


@click.command("propose")
@click.argument("route")
@LOGIN
@REASON
@DATA_OPTION
def propose_command(route: str, login: str | None, reason: str, data: Path | None) -> None:
    """Build the pack of ROUTE and propose it; somebody else approves it."""
    app, folder = open_data(data), _folder(route)
    who = _person(app, login)
    said = _reason(reason)
    built = _built(app, folder)
    _show(built)
    row = _proposed(app, built, who, said)
    if row is not None:
        click.echo(f"Proposed as number {row}. {_how_to_approve(row)}")


@click.command("publish")
@click.argument("route")
@LOGIN
@REASON
@DATA_OPTION
def publish_command(route: str, login: str | None, reason: str, data: Path | None) -> None:
    """Build the pack of ROUTE, show what it changes, and publish it if one person may.

    What asks less of a driver than before is proposed, and another login approves it.
    """
    app, folder = open_data(data), _folder(route)
    if app.config["DEMO"]:
        click.echo("A demo: published without a second person.")
        _publish_demo(app, folder)
        return
    who = _person(app, login)
    said = _reason(reason)
    built = _built(app, folder)
    _show(built)
    number = _proposed(app, built, who, said)
    if number is None:
        return
    with app.app_context(), reading() as session:
        row = proposals.find(session, number)
        why = proposals.reasons(session, row, built.found)
    if why:
        click.echo(f"Proposed as number {number}. {_how_to_approve(number)}")
        return
    _approved(app, number, who)


@click.command("approve")
@click.argument("number", type=int)
@LOGIN
@DATA_OPTION
def approve_command(number: int, login: str | None, data: Path | None) -> None:
    """Show what proposal NUMBER changes, and publish it."""
    app = open_data(data)
    who = _person(app, login)
    with app.app_context(), reading() as session:
        row = _found(session, number)
        found = _possible(lambda: proposals.comparison(session, row, _today()))
        unit = _unit(session, str(row.pack))
        for line in lines(found, unit):
            click.echo(line)
    _approved(app, number, who)


@click.command("drop")
@click.argument("number", type=int)
@LOGIN
@REASON
@DATA_OPTION
def drop_command(number: int, login: str | None, reason: str, data: Path | None) -> None:
    """Decline proposal NUMBER, or take your own back."""
    app = open_data(data)
    who, said = _person(app, login), _reason(reason)
    with app.app_context(), writing() as session:
        _possible(lambda: proposals.drop(session, number, who, said, datetime.now(UTC)))
    click.echo(f"Proposal {number} is dropped. Tablets keep what they have.")


@click.command("history")
@click.argument("route")
@DATA_OPTION
def history_command(route: str, data: Path | None) -> None:
    """List every pack that ROUTE ever had in use, and what is proposed."""
    app = open_data(data)
    with app.app_context(), reading() as session:
        spells = proposals.history(session, route)
        waiting = [row for row in proposals.open_ones(session) if row.route == route]
        for one in spells:
            click.echo(_spell_line(one))
        for row in waiting:
            said = row.pack[:8] if row.pack else "not built yet"
            click.echo(
                f"proposal {row.id}: {row.state}, {said}, by {row.made_by}: {row.reason}"
            )
    if not spells and not waiting:
        raise click.BadParameter(f"no pack of {route!r} was ever in use", param_hint="ROUTE")


@click.command("back")
@click.argument("route")
@click.argument("pack")
@LOGIN
@REASON
@DATA_OPTION
def back_command(
    route: str, pack: str, login: str | None, reason: str, data: Path | None
) -> None:
    """Put PACK, an earlier pack of ROUTE by the beginning of its name, back in use.

    Takes two people where marks move later by it, as any other change does.
    """
    app = open_data(data)
    who, said = _person(app, login), _reason(reason)
    with app.app_context(), writing() as session:
        whole = _whole_name(session, route, pack)
        row = _possible(
            lambda: proposals.put_back(session, route, whole, who, said, datetime.now(UTC))
        )
        found = proposals.comparison(session, row, _today())
        why, number = proposals.reasons(session, row, found), row.id
        unit = _unit(session, whole)
    for line in lines(found, unit):
        click.echo(line)
    if why:
        click.echo(f"Proposed as number {number}. {_how_to_approve(number)}")
        return
    _approved(app, number, who)


@click.command("withdraw")
@click.argument("route")
@click.option("--reason", required=True, help="Drivers read it; plain words.")
@click.option("--pack", default=None, help="Only this pack, by the beginning of its name.")
@LOGIN
@DATA_OPTION
def withdraw_command(
    route: str, reason: str, pack: str | None, login: str | None, data: Path | None
) -> None:
    """Take the packs of ROUTE back: tablets that synced show no advice from them.

    One person is enough, and at the server no login is needed: it only takes advice away.
    """
    said = " ".join(reason.split())
    if not said or len(said) > LONGEST_REASON:
        raise click.BadParameter(
            f"say why in 1 to {LONGEST_REASON} characters.", param_hint="--reason"
        )
    app = open_data(data)
    who = _person(app, login) if login else HERE
    try:
        with app.app_context(), writing() as session:
            now = datetime.now(UTC)
            whole = _whole_name(session, route, pack) if pack else None
            service.ready(session, _file(app), now)
            key = _file(app).load()
            assert key is not None
            index = service.withdraw(session, route, said, now, key, who, whole)
    except NothingToWithdraw as error:
        raise click.BadParameter(str(error), param_hint="ROUTE") from None
    click.echo(
        f"{route}: withdrawn in index {index.serial}. A tablet knows it from its next "
        "contact on; publishing brings advice back."
    )


@click.command("builder", hidden=True)
@DATA_OPTION
def builder_command(data: Path | None) -> None:
    """Build what the desk asked for, one pack after the other, then end."""
    builder.work(open_data(data))


COMMANDS = (
    compare_command,
    propose_command,
    publish_command,
    approve_command,
    drop_command,
    history_command,
    back_command,
    withdraw_command,
    builder_command,
)


def _folder(route: str) -> Path:
    try:
        return route_folder(route)
    except LookupError as unknown:
        raise click.BadParameter(str(unknown.args[0]), param_hint="ROUTE") from None


def _built(app: Flask, folder: Path) -> Built:
    """Build a folder with the register laid over it, and compare it with what is in use."""
    key = route_key(folder)
    with app.app_context(), reading() as session:
        register = register_.entries(session, key)
        last = proposals.last_pack(session, key)
        old = proposals.parts(session, last) if last else None
    pack = build_pack(folder, register=register)
    new = parts_of(pack)
    served = Base(old.base).listed if old else ()
    listed = register_.compared(served, Base(new.base).listed)
    doubts = open_doubts(folder, register, old.base if old else None)
    return Built(pack, compare(old, new, _today()), listed, doubts)


def parts_of(pack: Pack) -> Parts:
    """Return the two files of a built pack that a comparison reads."""
    return Parts(*(json.loads(pack.file(name).content) for name in ("base", "table")))


def _show(built: Built) -> None:
    for stands, place in built.listed:
        click.echo(f"listed place {stands}: {place.name} ({place.source})")
    unit = Base(parts_of(built.pack).base).speed_words
    for line in lines(built.found, unit):
        click.echo(line)
    for doubt in built.doubts:
        click.echo(f"Doubt that nobody confirmed: {doubt}")


def _proposed(app: Flask, built: Built, who: str, reason: str) -> int | None:
    """Keep a proposal and return its number; None where there is nothing to propose."""
    with app.app_context(), writing() as session:
        if built.pack.sha256 == proposals.current_pack(session, built.pack.route):
            click.echo(f"{built.pack.route}: this pack is in use already.")
            return None
        now = datetime.now(UTC)
        return proposals.propose(session, built.pack, who, reason, now, doubts=built.doubts).id


def _approved(app: Flask, number: int, who: str) -> None:
    with app.app_context(), writing() as session:
        now = datetime.now(UTC)
        service.ready(session, _file(app), now)
        key = _file(app).load()
        row = _found(session, number)
        index = _possible(lambda: proposals.approve(session, number, who, now, key, _today()))
        click.echo(f"{row.route}: pack {str(row.pack)[:8]} is in index {index.serial}")


def _publish_demo(app: Flask, folder: Path) -> None:
    built = _built(app, folder)
    _show(built)
    with app.app_context(), writing() as session:
        now = datetime.now(UTC)
        service.ready(session, _file(app), now)
        proposals.store(session, built.pack)
        index = service.publish(session, built.pack, now, _file(app).load())
    click.echo(f"{built.pack.route}: pack {built.pack.sha256[:8]} is in index {index.serial}")


def _person(app: Flask, login: str | None) -> str:
    """Return who this is: somebody with the right to publish, by login and password."""
    with app.app_context(), reading() as session:
        if people.nobody_yet(session):
            raise click.ClickException(
                "the desk has no account yet, and a pack is published by name. Start "
                "step-in-hand serve, make the first account with the code it prints, then "
                "type this again with --login."
            )
    if login is None:
        raise click.UsageError("say who you are: --login LOGIN, your account at the desk.")
    password = click.prompt(f"Password of {login}", hide_input=True, err=True)
    with app.app_context(), reading() as session:
        tried = people.compared(session, login, password, HERE)
        account = people.account(session, tried.person_id) if tried.person_id else None
    if account is None:
        raise click.ClickException(f"this password does not open an account {login}.")
    if not people.may(account, "publish"):
        raise click.ClickException(f"{login} does not have the right to publish packs.")
    return account.login


def _reason(text: str) -> str:
    said = " ".join(text.split())
    if not said or len(said) > proposals.REASON_LONGEST:
        raise click.BadParameter(
            f"say why in 1 to {proposals.REASON_LONGEST} characters.", param_hint="--reason"
        )
    return said


def _found(session: Session, number: int) -> PackProposal:
    return _possible(lambda: proposals.find(session, number))


def _possible(work: Callable[[], T]) -> T:
    try:
        return work()
    except (proposals.NoSuchProposal, proposals.NotPossible) as error:
        raise click.ClickException(str(error)) from None


def _whole_name(session: Session, route: str, begins: str) -> str:
    """Return the one pack of a route whose name begins so."""
    packs = dict.fromkeys(one.pack for one in proposals.history(session, route))
    found = [pack for pack in packs if begins and pack.startswith(begins.lower())]
    if len(found) != 1:
        known = ", ".join(pack[:8] for pack in packs) or "none"
        many = "more than one pack begins" if found else "no pack begins"
        raise click.BadParameter(f"{many} with {begins!r} (known: {known})", param_hint="PACK")
    return found[0]


def _spell_line(one: proposals.Spell) -> str:
    until = f"to {one.until:%Y-%m-%d %H:%M}" if one.until else "in use"
    people_of = [name for name in (one.made_by, one.approved_by) if name]
    who = f", by {' and '.join(dict.fromkeys(people_of))}" if people_of else ""
    why = f": {one.reason}" if one.reason else ""
    source = "" if one.source else ", its source is not here"
    return f"{one.pack[:8]}  {one.since:%Y-%m-%d %H:%M} {until}{who}{why}{source}"


def _how_to_approve(number: int) -> str:
    return (
        "Another login approves it at the desk, under Packs, or here: "
        f"step-in-hand pack approve {number} --login LOGIN"
    )


def _unit(session: Session, pack: str) -> str:
    return in_use.base(session, pack).speed_words


def _today() -> date:
    return datetime.now(UTC).date()


def _file(app: Flask) -> KeyFile:
    file: KeyFile = app.extensions["depot_key"]
    return file


def attach(group: click.Group, commands: Sequence[click.Command] = COMMANDS) -> None:
    """Add these commands to ``step-in-hand pack``."""
    for command in commands:
        group.add_command(command)
