"""``step-in-hand warning``: what the signaller said, typed at the depot."""

from __future__ import annotations

import uuid
from collections.abc import Callable
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import click
import marshmallow as ma
from flask import current_app
from sqlalchemy.orm import Session

from webapp.commands.terminal import DATA_OPTION, open_data, say
from webapp.lines import in_use
from webapp.lines.base import Base, unit_of
from webapp.lines.posts import stretch_along
from webapp.plain.fields import Moment
from webapp.records.warnings import clearing, ending, service, steps
from webapp.records.warnings import models as warnings_models
from webapp.records.warnings.clearing import Rule
from webapp.store import edits
from webapp.store.db import reading, writing

WHO_OPTION = click.option("--who", required=True, help="Who types this, for the audit.")
REV_OPTION = click.option(
    *("--rev",),
    required=True,
    type=int,
    help="Revision that was read, from `step-in-hand warning list`.",
)
# Option, field of the form, help; the same for a new warning and for an amended one.
FIELDS = (
    ("--from", "from_place", "One end, like '31 mi 20 ch' or 12.345, as posted on the line."),
    ("--to", "to_place", "The other end."),
    ("--state", "state", "Rail state by its key, for instance leaf-film."),
    ("--adhesion", "adhesion", "Adhesion instead of a state: planned as the next worse."),
    ("--reason", "reason", "What is the matter, in a few words."),
    ("--from-at", "from_at", "Since when, RFC 3339 with offset; now if not given."),
    (
        "--review-at",
        "review_at",
        "When to ask whether it is still in force.",
    ),
    ("--told-at", "told_at", "When the depot was told, RFC 3339 with offset."),
    ("--told-by", "told_by", "Who told the depot, for instance 'signaller, Harrowmere'."),
    ("--reference", "reference", "Number or page of the signaller's entry."),
)


@click.group("warning")
def warning_commands() -> None:
    """Tell tablets what the signaller said about the rail."""


def form(command: Callable[..., None]) -> Callable[..., None]:
    """Give a command one option for each field of a warning."""
    for option, field, text in reversed(FIELDS):
        kind = float if field == "adhesion" else str
        command = click.option(option, field, type=kind, help=text)(command)
    return command


@warning_commands.command("publish")
@click.option("--line", required=True, help="Line by its key, for instance kettle-bay.")
@click.option("--direction", required=True, help="Direction by its key, for instance down.")
@form
@WHO_OPTION
@DATA_OPTION
def publish_command(who: str, data: Path | None, **typed: Any) -> None:
    """Warn the tablets of a piece of rail."""
    now = datetime.now(UTC)
    given = _given(typed)
    given.setdefault("from_at", now.isoformat(timespec="seconds"))

    def action(session: Session) -> warnings_models.Warned:
        made = service.draft(session, given, who, now, uuid.uuid4())
        return service.publish(session, made.id, made.rev, who, now)

    _do(data, action)


@warning_commands.command("amend")
@click.argument("warning", type=click.UUID)
@REV_OPTION
@form
@WHO_OPTION
@DATA_OPTION
def amend_command(
    warning: uuid.UUID, rev: int, who: str, data: Path | None, **typed: Any
) -> None:
    """Change WARNING (its id); only what is given changes."""
    changes = _given(typed)
    if not changes:
        raise click.UsageError("nothing to amend: give at least one of the fields.")
    now = datetime.now(UTC)
    _do(data, lambda session: service.amend(session, warning, rev, changes, who, now))


@warning_commands.command("end")
@click.argument("warning", type=click.UUID)
@REV_OPTION
@click.option("--told-by", required=True, help="Who said that it ended.")
@click.option("--told-at", help="When it was told, RFC 3339 with offset; else now.")
@click.option("--reference", default="", help="Number or page of the signaller's entry.")
@click.option("--override", default="", help="Why it ended although steps are missing.")
@click.option(
    "--set-aside", default="", help="Why reports of tablets not enrolled are set aside."
)
@WHO_OPTION
@DATA_OPTION
def end_command(warning: uuid.UUID, rev: int, data: Path | None, **typed: str) -> None:
    """Take WARNING (its id) from the tablets, because the signaller said so.

    Where the company's rule of clearing misses a step, it asks for it or for the reason.
    """
    now = datetime.now(UTC)
    told = {
        "told_by": typed["told_by"].strip(),
        "told_at": _moment(typed["told_at"], now),
        "reference": typed["reference"].strip(),
    }

    def action(session: Session) -> warnings_models.Warned:
        rule = Rule.of(current_app.config)
        why = ending.Reasons(typed["override"].strip(), typed["set_aside"].strip())
        who = typed["who"]
        return ending.end(session, warning, rev, told, why, rule, who, now)

    _do(data, action)


@warning_commands.command("step")
@click.argument("warning", type=click.UUID)
@click.argument("kind", type=click.Choice(list(clearing.KINDS)))
@click.option("--result", type=click.Choice(list(clearing.RESULTS)), help="Of a test stop.")
@click.option("--told-by", required=True, help="Who said so.")
@click.option("--told-at", help="When it was done, RFC 3339 with offset; now if not given.")
@click.option("--reference", default="", help="Number or page of the signaller's entry.")
@WHO_OPTION
@DATA_OPTION
def step_command(
    warning: uuid.UUID, kind: str, result: str | None, data: Path | None, **typed: str
) -> None:
    """Note a step of clearing of WARNING (its id) as it was told; it ends nothing."""
    now = datetime.now(UTC)
    told = {
        **{"kind": kind, "result": result, "note": ""},
        "told_by": typed["told_by"].strip(),
        "told_at": _moment(typed["told_at"], now),
        "reference": typed["reference"].strip(),
    }

    def action(session: Session) -> warnings_models.Warned:
        steps.note(session, warning, told, typed["who"], now)
        found = service.get(session, warning)
        assert found is not None  # its row was locked just now
        return found

    _do(data, action)


@warning_commands.command("list")
@click.option("--ended", is_flag=True, help="Also those that ended.")
@DATA_OPTION
def list_command(ended: bool, data: Path | None) -> None:
    """List the warnings in force, with id and revision."""
    app = open_data(data)
    with app.app_context(), reading() as session:
        found = service.listed(session, ended=ended)
        bases = in_use.bases(session)
        told = [_line(warning, bases.get(warning.line_key)) for warning in found]
    for line in told or ["No warning is in force here. The signaller knows what is."]:
        say(line)


def _given(typed: dict[str, Any]) -> dict[str, Any]:
    return {field: value for field, value in typed.items() if value is not None}


def _do(data: Path | None, action: Callable[[Session], warnings_models.Warned]) -> None:
    app = open_data(data)
    try:
        with app.app_context(), writing() as session:
            warning = action(session)
            line = _line(warning, in_use.bases(session).get(warning.line_key))
    except edits.Faults as found:
        faults = " ".join(_as_typed(fault) for fault in found.faults)
        raise click.ClickException(f"nothing was changed. {faults}") from None
    except ending.Missing as missing:
        words = "".join(f"\n  missing: {one}" for one in missing.words)
        if missing.words:
            words += (
                "\nAsk, note it with `step-in-hand warning step`, or give --override and the "
                "reason."
            )
        if missing.apart:
            words += f"\n  nobody looked at: {missing.apart}, about this stretch"
            words += (
                "\nTake them in (`step-in-hand not-enrolled take-in`), or give --set-aside "
                "and the reason."
            )
        raise click.ClickException(f"nothing was ended.{words}") from None
    except (
        service.NoSuchWarning,
        edits.Stale,
        edits.NothingChanged,
        steps.Over,
    ) as refusal:
        raise click.ClickException(str(refusal.args[0])) from None
    say(line)


def _moment(typed: str | None, now: datetime) -> datetime:
    if typed is None:
        return now
    try:
        found = Moment().deserialize(typed)
    except ma.ValidationError as error:
        raise click.UsageError(f"--told-at: {' '.join(map(str, error.messages))}") from None
    assert isinstance(found, datetime)
    return found


def _as_typed(fault: str) -> str:
    """Name the options instead of the form's fields."""
    fields, _, rest = fault.partition(": ")
    options = {field: option for option, field, _help in FIELDS}
    names = [options.get(field, f"--{field}") for field in fields.split(", ")]
    return f"{', '.join(names)}: {rest}"


def _line(warning: warnings_models.Warned, base: Base | None) -> str:
    parts = [
        f"{warning.id}  rev {warning.rev}  {warning.status}",
        f"{warning.line_key} {warning.direction}",
        stretch_along(warning.from_m, warning.to_m, unit_of(base)),
        f"{warning.plan_state}, since {warning.from_at:%Y-%m-%d %H:%M}Z",
        warning.reason,
        f"told by {warning.told_by} {warning.reference}".rstrip(),
    ]
    if warning.review_at is not None:
        parts.append(f"ask again {warning.review_at:%Y-%m-%d %H:%M}Z")
    return "  ".join(parts)
