"""What the desk's pages of warnings share: the blueprint, one warning's page, times."""

from __future__ import annotations

import uuid
from datetime import UTC, datetime
from typing import Any

from flask import Blueprint, current_app, render_template, request
from flask_login import current_user

from webapp.desk import warning_forms
from webapp.lines import in_use
from webapp.lines.base import Base
from webapp.plain.fields import written
from webapp.records import tablets
from webapp.records.warnings import clearing, effect, overview, receipts, service, steps
from webapp.records.warnings.models import Warned
from webapp.store.db import reading
from webapp.web import forms as desk_fields
from webapp.web.problem import Problem

blueprint = Blueprint("warning_desk", __name__, template_folder="templates")
CHANGED = "Somebody changed this warning since you opened it."


def page_of(name: uuid.UUID, trouble: str | None = None) -> str:
    """Show a warning with its reach, the tablets that lack it, and its history."""
    now, after = datetime.now(UTC), tablet_cursor(request.args.get("after"))
    with reading() as session:
        warning = known(service.get(session, name))
        bases = in_use.bases(session)
        base = bases.get(warning.line_key)
        (shown,) = overview.shown(session, [warning], bases, now)
        found: dict[str, Any] = {
            "warning": shown,
            "served": base is not None,
            "history": overview.history(session, name, base),
            "by_base": receipts.by_base(session, warning),
            "lacking": None,
            "said": {},
            "behind": service.newest_held(session, warning) > warning.rev,
        }
        found["effect"] = None
        if warning.status != service.ENDED:
            day = now.astimezone(desk_fields.zone()).date().isoformat()
            found["effect"] = effect.of(session, warning, day)
        if warning.status == service.PUBLISHED:
            lacking = tablets.page(session, after, receipts.holders(name, warning.rev))
            found["lacking"] = lacking
            found["said"] = receipts.said(session, name, [t.id for t in lacking.tablets])
        found["clearing"], found["steps"] = steps.cleared(session, warning, rule(), now)
        found["apart"] = steps.apart(session, warning)
    return render_template(
        "warning.html",
        **found,
        form=desk_fields.Version(),
        strike_form=warning_forms.StrikeForm(formdata=None, data={"told_at": this_minute()}),
        trouble=trouble,
        after=after,
    )


def rule() -> clearing.Rule:
    return clearing.Rule.of(current_app.config)


def this_minute() -> datetime | None:
    return desk_fields.local(datetime.now(UTC).replace(second=0, microsecond=0))


def read(name: uuid.UUID) -> tuple[Warned, Base | None]:
    """Return a warning as it stands, free of its transaction, and its line's base.

    None when no pack of its line is in use: what was told of it is noted all the same.
    """
    with reading() as session:
        warning = known(service.get(session, name))
        session.expunge(warning)
        return warning, in_use.bases(session).get(warning.line_key)


def read_on_line(name: uuid.UUID) -> tuple[Warned, Base]:
    """Return a warning with its line's base, without which no place can be typed."""
    warning, base = read(name)
    if base is None:
        raise Problem(
            409, "no_line",
            f"{warning.line_key}: no pack of this line is in use, so no place on it can be "
            "typed. Publish one; until then the warning can be ended, not amended.",
        )  # fmt: skip
    return warning, base


def may_publish() -> None:
    if not current_user.may("publish"):
        raise Problem(
            403,
            "not_allowed",
            "Your account may draft a warning, not publish or change a published one.",
        )


def known(warning: Warned | None) -> Warned:
    if warning is None:
        raise none()
    return warning


def none() -> Problem:
    return Problem(404, "no_such_warning", "No such warning. /desk/warnings lists them.")


def cursor(text: str | None) -> overview.Cursor | None:
    try:
        return None if text is None else overview.Cursor.read(text)
    except (ValueError, OverflowError) as error:
        raise Problem(
            422, "bad_cursor", "This address is incomplete. Open /desk/warnings again."
        ) from error


def tablet_cursor(text: str | None) -> tablets.Cursor | None:
    try:
        return None if text is None else tablets.Cursor.read(text)
    except (ValueError, RecursionError) as error:
        raise Problem(
            422, "bad_cursor", "This address is incomplete. Open the page again."
        ) from error


@blueprint.app_template_filter("said")
def said(value: str | datetime) -> str:
    """Write a value of the history."""
    return shortly(value) if isinstance(value, datetime) else value


@blueprint.app_template_filter("shortly")
def shortly(moment: datetime | None) -> str:
    """Write a time in a list: weekday, day, month, hour and minute."""
    if moment is None:
        return ""
    return written(moment, desk_fields.zone(), "%a %d %b %H:%M", "minutes")
