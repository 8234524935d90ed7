"""The desk's pages of warnings: list, one, its forms. Clearing: `clearing_desk`."""

from __future__ import annotations

import uuid
from datetime import UTC, datetime
from typing import Any

from flask import redirect, render_template, request, url_for
from sqlalchemy.orm import Session

from webapp.desk import editing, warning_forms
from webapp.desk.editing import Answer
from webapp.desk.warning_shared import (
    CHANGED,
    blueprint,
    cursor,
    may_publish,
    none,
    page_of,
    read_on_line,
    this_minute,
)
from webapp.lines import in_use
from webapp.lines.base import Base
from webapp.lines.posts import how_to_type
from webapp.records.reports import service as reports
from webapp.records.warnings import answering, overview, proposal, service
from webapp.records.warnings.models import Warned
from webapp.store.db import reading, writing
from webapp.store.edits import Stale
from webapp.web import forms as desk_fields
from webapp.web.access import needs, who
from webapp.web.problem import Problem

NO_LINE = "No pack is published here yet. Publish one first: a warning is about its line."


@blueprint.get("/desk/warnings")
@needs("look")
def everyone() -> str:
    """List the warnings of one kind: live, due for review, drafts or ended."""
    show = request.args.get("show", "live")
    if show not in overview.SHOWN:
        raise Problem(
            422, "bad_list", "This address is incomplete. Open /desk/warnings again."
        )
    line, before = request.args.get("line") or None, cursor(request.args.get("before"))
    with reading() as session:
        page = overview.page(session, show, line, datetime.now(UTC), before)
    return render_template(
        "warnings.html", page=page, show=show, line=line, before=before, kinds=overview.SHOWN
    )


@blueprint.get("/desk/warnings/<uuid:warning_id>")
@needs("look")
def one(warning_id: uuid.UUID) -> Answer:
    """Show one warning: what it says, whom it reached, how it came to be."""
    return page_of(warning_id)


@blueprint.route("/desk/warnings/new", methods=["GET", "POST"])
@needs("review")
def new() -> Answer:
    """Make a warning by hand or from a report; who may publish can do so at once."""
    with reading() as session:
        bases = in_use.bases(session)
    if not bases:
        raise Problem(409, "no_line", NO_LINE)
    first = _proposed(bases) if request.method == "GET" else {}
    line = str(request.values.get("line") or first.get("line") or "")
    if line not in bases and len(bases) > 1:
        return render_template("warning-line.html", bases=bases, asked=line)
    base = bases.get(line) or next(iter(bases.values()))
    form = warning_forms.prepared(warning_forms.WarningForm(data=first), base)
    return editing.sent(
        form,
        lambda session, now: _made(session, form, now),
        then=_to_page,
        again=lambda: _form(form, base),
    )


def _made(session: Session, form: warning_forms.WarningForm, now: datetime) -> uuid.UUID:
    """Keep the draft, and publish it in the same transaction when that was asked."""
    at_once = request.form.get("do") == "publish"
    if at_once:
        may_publish()
    said, report = warning_forms.typed(form), _report_id(form.report.data)
    made = service.draft(session, said, who(), now, uuid.uuid4(), report)
    if at_once:
        answering.publish(session, made.id, made.rev, who(), now, desk_fields.zone())
    return made.id


def _to_page(name: uuid.UUID) -> Answer:
    return redirect(url_for("warning_desk.one", warning_id=name))


@blueprint.route("/desk/warnings/<uuid:warning_id>/amend", methods=["GET", "POST"])
@needs("review")
def amend(warning_id: uuid.UUID) -> Answer:
    """Change a warning. The second of two editors sees both; what was typed is kept."""
    warning, base = read_on_line(warning_id)
    if warning.status == service.PUBLISHED:
        may_publish()
    kept = warning_forms.kept_fields(warning, base)
    form = warning_forms.prepared(
        warning_forms.WarningForm(data={**kept, "version": warning.rev}), base
    )

    def work(session: Session, now: datetime) -> None:
        rev, given = form.version.data or 0, warning_forms.changes(form, warning, base)
        service.amend(session, warning_id, rev, given, who(), now)

    def both() -> str:
        warning, base = read_on_line(warning_id)
        with reading() as session:
            last = overview.history(session, warning_id, base)[0]
        kept = warning_forms.kept_fields(warning, base)
        theirs = editing.beside(form, kept, warning.rev, base, form.data)
        return _form(form, base, warning, theirs=theirs, last=last)

    return editing.sent(
        form,
        work,
        then=lambda _none: _to_page(warning_id),
        again=lambda: _form(form, base, warning),
        stale=both,
    )


@blueprint.post("/desk/warnings/<uuid:warning_id>/publish")
@needs("publish")
def publish(warning_id: uuid.UUID) -> Answer:
    """Tell a draft to the tablets."""
    zone = desk_fields.zone()
    return _act(
        warning_id, lambda s, rev, now: answering.publish(s, warning_id, rev, who(), now, zone)
    )


@blueprint.post("/desk/warnings/<uuid:warning_id>/drop")
@needs("review")
def drop(warning_id: uuid.UUID) -> Answer:
    """End a draft that nobody was told."""
    return _act(warning_id, lambda s, rev, now: service.drop(s, warning_id, rev, who(), now))


def _act(warning_id: uuid.UUID, work: Any) -> Answer:
    """Do it to the revision that was read, or show the warning as it is now."""
    form = desk_fields.Version()
    if not form.validate():
        raise Problem(422, "no_version", "Load the warning's page again, then send it.")
    try:
        with writing() as session:
            work(session, form.version.data, datetime.now(UTC))
    except service.NoSuchWarning as error:
        raise none() from error
    except Stale:
        text = f"{CHANGED} Nothing was done. Look at it again."
        return page_of(warning_id, text), 409
    return redirect(url_for("warning_desk.one", warning_id=warning_id))


def _form(
    form: warning_forms.WarningForm, base: Base, warning: Warned | None = None, **more: Any
) -> str:
    return render_template(
        "warning-form.html",
        form=form,
        base=base,
        warning=warning,
        written=how_to_type(str(base.distance_unit)),
        **{"theirs": None, "last": None, **more},
    )


def _proposed(bases: dict[str, Base]) -> dict[str, Any]:
    """Return what the form begins with: now, and what a report says."""
    now = this_minute()
    first: dict[str, Any] = {"from_at": now, "told_at": now}
    name = _report_id(request.args.get("report"))
    if name is None:
        return first
    with reading() as session:
        report = reports.facts(session, name)
    if report is None:
        raise Problem(404, "no_such_report", "No report with this id has arrived.")
    base = bases.get(report["line"])
    if base is None:
        raise Problem(409, "no_line", f"{report['line']}: no pack of this line is in use.")
    return {**first, **proposal.from_report(base, report), "report": str(name)}


def _report_id(text: str | None) -> uuid.UUID | None:
    try:
        return uuid.UUID(text) if text else None
    except ValueError as error:
        raise Problem(
            422, "bad_report", "This address names no report. Open it from the report's page."
        ) from error
