"""The desk's pages of temporary speed restrictions: lists, forms, the end of one."""

from __future__ import annotations

import uuid
from collections.abc import Callable
from datetime import UTC, datetime
from typing import Any

from flask import Blueprint, current_app, redirect, render_template, request, url_for

from webapp.desk import editing, restriction_forms
from webapp.desk.editing import Answer
from webapp.lines import in_use
from webapp.lines.base import Base, Lines
from webapp.lines.posts import how_to_type
from webapp.records.restrictions import service, words
from webapp.records.restrictions.models import Restriction
from webapp.store import audit
from webapp.store.db import reading
from webapp.web.access import needs, who
from webapp.web.forms import local
from webapp.web.problem import Problem

blueprint = Blueprint("restrictions", __name__, template_folder="templates")
SHOWN = {service.LIVE: "Live", service.TO_COME: "To come", service.ENDED: "Ended"}


@blueprint.app_template_global("restriction_speed")
def restriction_speed(row: Restriction) -> str:
    return service.speed_words(row)


@blueprint.app_template_global("restriction_asks")
def restriction_asks(row: Restriction, now: datetime) -> bool:
    return service.asks(row, now)


@blueprint.get("/desk/restrictions")
@needs("look")
def everyone() -> str:
    """List the restrictions that are live, to come or ended."""
    show, now = request.args.get("show", service.LIVE), datetime.now(UTC)
    if show not in SHOWN:
        raise _incomplete()
    with reading() as session:
        lines = Lines(in_use.bases(session))
        after = _last(lambda name: service.find(session, name), show)
        page = service.page(session, show, now, after)
        return render_template(
            "restrictions.html", page=page, show=show, kinds=SHOWN, after=after, lines=lines,
            now=now, zone=current_app.config["DESK_ZONE"],
        )  # fmt: skip


@blueprint.route("/desk/restrictions/new", methods=["GET", "POST"])
@needs("publish")
def new() -> Answer:
    """Keep one restriction as its notice says it."""
    with reading() as session:
        bases = in_use.bases(session)
    base = bases.get(str(request.values.get("line") or ""))
    if base is None:
        return render_template("restriction-line.html", bases=bases)
    form = restriction_forms.prepared(restriction_forms.RestrictionForm(), base)

    def kept(_name: uuid.UUID) -> Answer:
        begun = form.told()["from_at"] <= datetime.now(UTC)
        show = service.LIVE if begun else service.TO_COME
        return redirect(url_for("restrictions.everyone", show=show))

    return editing.sent(
        form,
        lambda session, now: service.note(session, base, form.told(), who(), now),
        then=kept,
        again=lambda: _form(form, base),
    )


@blueprint.get("/desk/restrictions/<uuid:restriction_id>")
@needs("look")
def one(restriction_id: uuid.UUID) -> str:
    """Show one restriction and what was done to it; also where its line has no pack in use."""
    with reading() as session:
        row = service.find(session, restriction_id)
        if row is None:
            raise _none_such()
        bases, entries = in_use.bases(session), audit.of(session, str(restriction_id))
        session.expunge(row)
    history = words.history(entries, bases.get(row.line_key))
    return render_template(
        "restriction.html", row=row, history=history, lines=Lines(bases),
        writes=row.line_key in bases, now=datetime.now(UTC),
        zone=current_app.config["DESK_ZONE"],
    )  # fmt: skip


@blueprint.route("/desk/restrictions/<uuid:restriction_id>/change", methods=["GET", "POST"])
@needs("publish")
def change(restriction_id: uuid.UUID) -> Answer:
    """Change one. The second of two editors sees both; what was typed is kept."""
    row, base = _read(restriction_id)
    first = {**restriction_forms.kept(row, base), "version": row.rev}
    form = restriction_forms.prepared(restriction_forms.RestrictionForm(data=first), base)

    def both() -> str:
        row, base = _read(restriction_id)
        kept = restriction_forms.kept(row, base)
        theirs = editing.beside(form, kept, row.rev, base, form.data)
        return _form(form, base, row, theirs)

    return editing.sent(
        form,
        lambda session, now: service.change(
            session, base, row.id, form.version.data or 0, form.told(), who(), now
        ),
        then=lambda _none: redirect(url_for("restrictions.everyone")),
        again=lambda: _form(form, base, row),
        stale=both,
    )


@blueprint.route("/desk/restrictions/<uuid:restriction_id>/end", methods=["GET", "POST"])
@needs("publish")
def end(restriction_id: uuid.UUID) -> Answer:
    """End one, as a person was told that its notice is withdrawn."""
    row, base = _read(restriction_id)
    shown = local(datetime.now(UTC).replace(second=0, microsecond=0))
    form = restriction_forms.EndForm(data={"version": row.rev, "ended_at": shown})

    def ask_again() -> str:
        row, base = _read(restriction_id)
        form.version.raw_data, form.version.data = None, row.rev
        return _end_form(form, row, base, stale=True)

    return editing.sent(
        form,
        lambda session, now: service.end(
            session, row.id, form.version.data, form.told(), who(), now
        ),
        then=lambda _none: redirect(url_for("restrictions.everyone", show=service.ENDED)),
        again=lambda: _end_form(form, row, base),
        stale=ask_again,
    )


def _end_form(
    form: restriction_forms.EndForm, row: Restriction, base: Base, *, stale: bool = False
) -> str:
    lines, now = Lines({row.line_key: base}), datetime.now(UTC)
    return render_template(
        "restriction-end.html", form=form, row=row, lines=lines, stale=stale, now=now
    )


def _form(
    form: restriction_forms.RestrictionForm,
    base: Base,
    row: Restriction | None = None,
    theirs: Any = None,
) -> str:
    return render_template(
        "restriction-form.html", form=form, base=base, row=row, theirs=theirs,
        written=how_to_type(str(base.distance_unit)),
    )  # fmt: skip


def _read(name: uuid.UUID) -> tuple[Restriction, Base]:
    with reading() as session:
        row = service.find(session, name)
        bases = in_use.bases(session)
        if row is None:
            raise _none_such()
        session.expunge(row)
    if row.line_key not in bases:
        raise Problem(409, "no_line", f"{row.line_key}: no pack of this line is in use.")
    return row, bases[row.line_key]


def _none_such() -> Problem:
    return Problem(404, "no_such_restriction", "None such. /desk/restrictions lists them.")


def _last(find: Callable[[uuid.UUID], Restriction | None], show: str) -> Restriction | None:
    """Return the row after which the page begins."""
    text = request.args.get("after")
    if text is None:
        return None
    try:
        row = find(uuid.UUID(text))
    except ValueError as error:
        raise _incomplete() from error
    # It may have been ended since: the list is then read from its beginning.
    if row is None or (row.ended_at is None) == (show == service.ENDED):
        return None
    return row


def _incomplete() -> Problem:
    said = "This address is incomplete. Open /desk/restrictions again."
    return Problem(422, "bad_list", said)
