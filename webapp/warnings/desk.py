"""The desk's pages of warnings: list, one, its forms."""

from __future__ import annotations

import uuid
from collections.abc import Callable
from datetime import UTC, datetime
from typing import Any

from flask import Blueprint, current_app, redirect, render_template, request, url_for
from flask_login import current_user
from werkzeug.wrappers import Response

from webapp.access import needs, who
from webapp.db import reading, writing
from webapp.problem import Problem
from webapp.reports import service as reports
from webapp.tablets import service as tablets
from webapp.warnings import (
    clearing,
    forms,
    overview,
    proposal,
    receipts,
    service,
    steps,
    test_stop,
)
from webapp.warnings.lines import Json
from webapp.warnings.models import Warned

blueprint = Blueprint("warning_desk", __name__, template_folder="templates")
Answer = str | Response | tuple[str, int]
CHANGED = "Somebody changed this warning meanwhile."
NO_LINE = "No pack is published here yet. Publish one first: a warning is about its line."


@blueprint.get("/desk/warnings")
@needs("look")
def everyone() -> str:
    """List the warnings of one kind: live, due for review, drafts or ended."""
    show = request.args.get("show", "live")
    if show not in overview.SHOWN:
        raise Problem(422, "bad_list", "This address is incomplete. Open /desk/warnings anew.")
    line, before = request.args.get("line") or None, _cursor(request.args.get("before"))
    with reading() as session:
        page = overview.page(session, show, line, datetime.now(UTC), before)
    return render_template(
        "warnings.html", page=page, show=show, line=line, before=before, kinds=overview.SHOWN
    )


@blueprint.get("/desk/warnings/<uuid:name>")
@needs("look")
def one(name: uuid.UUID) -> Answer:
    """Show one warning: what it says, whom it reached, how it came to be."""
    return _page(name)


@blueprint.route("/desk/warnings/new", methods=["GET", "POST"])
@needs("review")
def new() -> Answer:
    """Make a warning by hand or from a report; who may publish can do so at once."""
    with reading() as session:
        bases = service.bases(session)
    if not bases:
        raise Problem(409, "no_line", NO_LINE)
    first = _proposed(bases) if request.method == "GET" else {}
    line = str(request.values.get("line") or first.get("line") or "")
    if line not in bases and len(bases) > 1:
        return render_template("warning-line.html", bases=bases, asked=line)
    base = bases.get(line) or next(iter(bases.values()))
    form = forms.prepared(forms.WarningForm(data=first), base)
    if not form.validate_on_submit():
        status = 200 if request.method == "GET" else 422
        return _form(form, base), status
    return _made(form, base)


def _made(form: forms.WarningForm, base: Json) -> Answer:
    """Keep the draft, and publish it in the same transaction when that was asked."""
    now, at_once = datetime.now(UTC), request.form.get("deed") == "publish"
    if at_once:
        _may_publish()
    try:
        with writing() as session:
            report = _report_id(form.report.data)
            made = service.draft(session, forms.typed(form), who(), now, uuid.uuid4(), report)
            if at_once:
                service.publish(session, made.id, made.rev, who(), now)
            name = made.id
    except service.WarningFaults as found:
        forms.mark(form, found.faults)
        return _form(form, base), 422
    return redirect(url_for("warning_desk.one", name=name))


@blueprint.route("/desk/warnings/<uuid:name>/amend", methods=["GET", "POST"])
@needs("review")
def amend(name: uuid.UUID) -> Answer:
    """Change a warning. Who comes second sees both, and what he typed stays."""
    warning, base = _read(name)
    if warning.status == service.PUBLISHED:
        _may_publish()
    kept = forms.kept_fields(warning, base)
    first = {**kept, "version": warning.rev}
    form = forms.prepared(forms.WarningForm(data=first), base)
    if form.validate_on_submit():
        return _amended(form, warning, base)
    return _form(form, base, warning), 200 if request.method == "GET" else 422


def _amended(form: forms.WarningForm, warning: Warned, base: Json) -> Answer:
    now, given = datetime.now(UTC), forms.changes(form, warning, base)
    try:
        with writing() as session:
            service.amend(session, warning.id, form.version.data or 0, given, who(), now)
    except service.WarningFaults as found:
        forms.mark(form, found.faults)
        return _form(form, base, warning), 422
    except service.NothingChanged as same:
        form.form_errors.append(str(same))
        return _form(form, base, warning), 422
    except service.Stale:
        return _both(form, warning.id)
    return redirect(url_for("warning_desk.one", name=warning.id))


def _both(form: forms.WarningForm, name: uuid.UUID) -> Answer:
    """Show what another desk kept meanwhile beside what was typed here."""
    warning, base = _read(name)
    with reading() as session:
        last = overview.history(session, name, base)[0]
    theirs = forms.differences(form, forms.kept_fields(warning, base), base)
    # Sent again it is meant: the newest revision was read beside it.
    form.version.raw_data, form.version.data = None, warning.rev
    return _form(form, base, warning, theirs=theirs, last=last), 409


@blueprint.post("/desk/warnings/<uuid:name>/publish")
@needs("publish")
def publish(name: uuid.UUID) -> Answer:
    """Tell a draft to the tablets."""
    return _deed(name, lambda s, rev, now: service.publish(s, name, rev, who(), now))


@blueprint.post("/desk/warnings/<uuid:name>/drop")
@needs("review")
def drop(name: uuid.UUID) -> Answer:
    """End a draft that nobody was told."""
    return _deed(name, lambda s, rev, now: service.drop(s, name, rev, who(), now))


@blueprint.route("/desk/warnings/<uuid:name>/steps", methods=["GET", "POST"])
@needs("review")
def note_step(name: uuid.UUID) -> Answer:
    """Note one step of clearing as it was told."""
    form = forms.StepForm(data={"told_at": _this_minute()})
    form.kind.choices = forms.pairs(clearing.KINDS)
    form.result.choices = forms.pairs(clearing.RESULTS)
    if not form.validate_on_submit():
        return _step_page(name, form), 200 if request.method == "GET" else 422
    told = forms.step(form)
    return _stepped(
        name, lambda s, now: steps.note(s, name, told, who(), now),
        lambda: _step_page(name, form), form,
    )  # fmt: skip


@blueprint.post("/desk/warnings/<uuid:name>/steps/<uuid:step>/strike")
@needs("review")
def strike(name: uuid.UUID, step: uuid.UUID) -> Answer:
    """Take a step back that was told or typed wrongly; it stays in the history."""
    form = forms.StrikeForm(data={"told_at": _this_minute()})
    if not form.validate():
        return _page(name, "Say who told you, and why the step is taken back."), 422
    told = {**forms.told(form), "note": (form.note.data or "").strip()}
    return _stepped(
        name, lambda s, now: steps.strike(s, name, step, told, who(), now),
        lambda: _page(name), form,
    )  # fmt: skip


def _stepped(
    name: uuid.UUID, work: Any, again: Callable[[], str], form: forms.Telling
) -> Answer:
    try:
        with writing() as session:
            work(session, datetime.now(UTC))
    except service.WarningFaults as found:
        forms.mark(form, found.faults)
        return again(), 422
    except steps.Over as over:
        return _page(name, str(over)), 409
    return redirect(url_for("warning_desk.one", name=name))


def _step_page(name: uuid.UUID, form: forms.StepForm) -> str:
    warning, base = _read(name)
    words = overview.title(warning, base)
    return render_template("warning-step.html", form=form, name=name, words=words)


@blueprint.route("/desk/warnings/<uuid:name>/end", methods=["GET", "POST"])
@needs("publish")
def end(name: uuid.UUID) -> Answer:
    """End a warning as the signaller said; where the rule misses a step, ask first."""
    with reading() as session:
        rev = _known(service.get(session, name)).rev
    form = forms.EndForm(data={"told_at": _this_minute(), "version": rev})
    if not form.validate_on_submit():
        return _end_page(name, form), 200 if request.method == "GET" else 422
    try:
        with writing() as session:
            _end(session, name, form)
    except _Asked as asked:
        form.override.errors = [str(asked)]
        return _end_page(name, form), 422
    except service.WarningFaults as found:
        forms.mark(form, found.faults)
        return _end_page(name, form), 422
    except service.NoSuchWarning as error:
        raise _none() from error
    except service.Stale:
        trouble = f"{CHANGED} Nothing was ended. Look at it again."
        return _page(name, trouble), 409
    return redirect(url_for("warning_desk.one", name=name))


class _Asked(Exception):
    """A step of the rule is missing, and no reason was typed."""


def _end(session: Any, name: uuid.UUID, form: forms.EndForm) -> None:
    """End it in this transaction, or ask; the steps cannot change in between."""
    now, told = datetime.now(UTC), forms.told(form)
    warning = service.locked(session, name, form.version.data or 0)
    found, _ = steps.cleared(session, warning, _rule(), told["told_at"])
    reason = (form.override.data or "").strip()
    if found.missing and not reason:
        raise _Asked("Something is missing above. Ask, or type why it ended without it.")
    more = {
        "end_told_at": told["told_at"].isoformat(timespec="seconds"),
        "end_reference": told["reference"],
        "missing": [check.words for check in found.missing] or None,
        "override": reason if found.missing else None,
    }
    service.end(session, name, form.version.data or 0, told["told_by"], who(), now, more)


def _end_page(name: uuid.UUID, form: forms.EndForm) -> str:
    told_at = form.told_at.moment() or datetime.now(UTC)
    warning, base = _read(name)
    with reading() as session:
        found, told = steps.cleared(session, warning, _rule(), told_at)
        return render_template(
            "warning-end.html", form=form, name=name, clearing=found, steps=told,
            words=overview.title(warning, base), over=warning.status != service.PUBLISHED,
        )  # fmt: skip


@blueprint.get("/desk/warnings/<uuid:name>/test-stop")
@needs("look")
def test_stop_view(name: uuid.UUID) -> str:
    """Show the advice at that place with and without this warning."""
    warning, base = _read(name)
    now = datetime.now(UTC)
    day = now.astimezone(forms.zone()).date().isoformat()
    train, state = request.args.get("train"), request.args.get("state")
    with reading() as session:
        found, _ = steps.cleared(session, warning, _rule(), now)
        view = test_stop.view(session, warning, train, state, day, treated=found.treated)
    return render_template(
        "test-stop.html", view=view, name=name, clearing=found,
        words=overview.title(warning, base),
    )  # fmt: skip


def _rule() -> clearing.Rule:
    return clearing.Rule.of(current_app.config)


def _this_minute() -> datetime | None:
    return forms.local(datetime.now(UTC).replace(second=0, microsecond=0))


def _deed(name: uuid.UUID, work: Any) -> Answer:
    """Do it to the revision that was read, or show the warning as it is now."""
    form = forms.Version()
    if not form.validate():
        raise Problem(422, "no_version", "Load the warning's page again, then send it.")
    try:
        with writing() as session:
            work(session, form.version.data, datetime.now(UTC))
    except service.NoSuchWarning as error:
        raise _none() from error
    except service.Stale:
        text = f"{CHANGED} Nothing was done. Look at it again."
        return _page(name, text), 409
    return redirect(url_for("warning_desk.one", name=name))


def _page(name: uuid.UUID, trouble: str | None = None) -> str:
    """Show a warning with its reach, the tablets that lack it, and its history."""
    now, after = datetime.now(UTC), _tablet_cursor(request.args.get("after"))
    with reading() as session:
        warning = _known(service.get(session, name))
        bases = service.bases(session)
        base = bases.get(warning.line_key)
        (shown,) = overview.shown(session, [warning], bases, now)
        found: dict[str, Any] = {
            "warning": shown,
            "history": overview.history(session, name, base),
            "by_base": receipts.by_base(session, warning),
            "lacking": None,
            "said": {},
        }
        if warning.status == service.PUBLISHED:
            lacking = tablets.page(session, after, receipts.holders(name, warning.rev))
            found["lacking"] = lacking
            found["said"] = receipts.said(session, name, [t.id for t in lacking.tablets])
        found["clearing"], found["steps"] = steps.cleared(session, warning, _rule(), now)
    return render_template(
        "warning.html",
        **found,
        form=forms.Version(),
        strike_form=forms.StrikeForm(formdata=None, data={"told_at": _this_minute()}),
        trouble=trouble,
        after=after,
    )


def _form(
    form: forms.WarningForm, base: Json, warning: Warned | None = None, **more: Any
) -> str:
    unit = base["route"]["distance_unit"]
    written = "31m 20ch" if unit == "mi-ch" else "12.345"
    return render_template(
        "warning-form.html",
        form=form,
        base=base,
        warning=warning,
        written=written,
        **{"theirs": None, "last": None, **more},
    )


def _proposed(bases: dict[str, Json]) -> dict[str, Any]:
    """Return what the form begins with: now, and what a report says."""
    now = _this_minute()
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


def _may_publish() -> None:
    if not current_user.may("publish"):
        raise Problem(
            403,
            "not_allowed",
            "Your account may draft a warning, not publish or change a published one.",
        )


def _read(name: uuid.UUID) -> tuple[Warned, Json]:
    """Return a warning as it stands, free of its transaction, and its line's base."""
    with reading() as session:
        warning = _known(service.get(session, name))
        session.expunge(warning)
        base = service.bases(session).get(warning.line_key)
    if base is None:
        raise Problem(409, "no_line", f"{warning.line_key}: no pack of this line is in use.")
    return warning, base


def _known(warning: Warned | None) -> Warned:
    if warning is None:
        raise _none()
    return warning


def _none() -> Problem:
    return Problem(404, "no_such_warning", "No such warning. /desk/warnings lists them.")


def _cursor(text: str | None) -> overview.Cursor | None:
    try:
        return None if text is None else overview.Cursor.read(text)
    except (ValueError, OverflowError) as error:
        raise Problem(
            422, "bad_cursor", "This address is incomplete. Open /desk/warnings anew."
        ) from error


def _tablet_cursor(text: str | None) -> tablets.Cursor | None:
    try:
        return None if text is None else tablets.Cursor.read(text)
    except (ValueError, RecursionError) as error:
        raise Problem(
            422, "bad_cursor", "This address is incomplete. Open the page anew."
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
    return moment.astimezone(forms.zone()).strftime("%a %d %b %H:%M")
