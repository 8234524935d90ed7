"""The desk's pages of clearing: steps as they are told, the end, the test stop."""

from __future__ import annotations

import uuid
from collections.abc import Callable
from datetime import UTC, datetime
from typing import Any

from flask import redirect, render_template, request, url_for
from sqlalchemy.orm import Session

from webapp.desk import editing, warning_forms
from webapp.desk.editing import Answer
from webapp.desk.warning_shared import (
    CHANGED,
    blueprint,
    known,
    none,
    page_of,
    read,
    rule,
    this_minute,
)
from webapp.records.warnings import (
    clearing,
    controlled_stop,
    ending,
    overview,
    service,
    steps,
)
from webapp.store.db import reading
from webapp.web import forms as desk_fields
from webapp.web.access import needs, who

APART = "Nobody has looked at them. Take in what may be true, or type why they are set aside."
UNSAID = "Say who told you, and why the step is taken back."
MISSING = "Something is missing above. Ask, or type why it ended without it."


@blueprint.route("/desk/warnings/<uuid:warning_id>/steps", methods=["GET", "POST"])
@needs("review")
def note_step(warning_id: uuid.UUID) -> Answer:
    """Note one step of clearing as it was told."""
    form = warning_forms.StepForm(data={"told_at": this_minute()})
    form.kind.choices = warning_forms.pairs(clearing.KINDS)
    form.result.choices = warning_forms.pairs(clearing.RESULTS)
    return _stepped(
        warning_id,
        lambda s, now: steps.note(s, warning_id, warning_forms.step(form), who(), now),
        lambda: _step_page(warning_id, form),
        form,
    )


@blueprint.post("/desk/warnings/<uuid:warning_id>/steps/<uuid:step_id>/strike")
@needs("review")
def strike(warning_id: uuid.UUID, step_id: uuid.UUID) -> Answer:
    """Take a step back that was told or typed wrongly; it stays in the history."""
    form = warning_forms.StrikeForm(data={"told_at": this_minute()})

    def work(session: Session, now: datetime) -> None:
        told = {**warning_forms.told(form), "note": (form.note.data or "").strip()}
        steps.strike(session, warning_id, step_id, told, who(), now)

    return _stepped(warning_id, work, lambda: page_of(warning_id, UNSAID), form)


def _stepped(
    warning_id: uuid.UUID, work: Any, again: Callable[[], str], form: warning_forms.Telling
) -> Answer:
    try:
        return editing.sent(
            form,
            work,
            then=lambda _none: redirect(url_for("warning_desk.one", warning_id=warning_id)),
            again=again,
        )
    except steps.Over as over:
        return page_of(warning_id, str(over)), 409


def _step_page(warning_id: uuid.UUID, form: warning_forms.StepForm) -> str:
    warning, base = read(warning_id)
    words = overview.title(warning, base)
    return render_template("warning-step.html", form=form, warning_id=warning_id, words=words)


@blueprint.route("/desk/warnings/<uuid:warning_id>/end", methods=["GET", "POST"])
@needs("publish")
def end(warning_id: uuid.UUID) -> Answer:
    """End a warning as the signaller said; where the rule misses a step, ask first."""
    with reading() as session:
        rev = known(service.get(session, warning_id)).rev
    form = warning_forms.EndForm(data={"told_at": this_minute(), "version": rev})
    try:
        return editing.sent(
            form,
            lambda session, now: _end(session, warning_id, form, now),
            then=lambda _none: redirect(url_for("warning_desk.one", warning_id=warning_id)),
            again=lambda: _end_page(warning_id, form),
            stale=lambda: page_of(
                warning_id, f"{CHANGED} Nothing was ended. Look at it again."
            ),
        )
    except ending.Missing as missing:
        if missing.words:
            form.override.errors = [MISSING]
        if missing.apart:
            form.aside.errors = [APART]
        return _end_page(warning_id, form), 422
    except service.NoSuchWarning as error:
        raise none() from error


def _end(
    session: Session, warning_id: uuid.UUID, form: warning_forms.EndForm, now: datetime
) -> None:
    told = warning_forms.told(form)
    why = ending.Reasons((form.override.data or "").strip(), (form.aside.data or "").strip())
    rev = form.version.data or 0
    ending.end(session, warning_id, rev, told, why, rule(), who(), now)


def _end_page(warning_id: uuid.UUID, form: warning_forms.EndForm) -> str:
    told_at = form.told_at.moment() or datetime.now(UTC)
    warning, base = read(warning_id)
    with reading() as session:
        found, told = steps.cleared(session, warning, rule(), told_at)
        return render_template(
            "warning-end.html", form=form, warning_id=warning_id, clearing=found, steps=told,
            words=overview.title(warning, base), served=base is not None,
            over=warning.status != service.PUBLISHED, apart=steps.apart(session, warning),
        )  # fmt: skip


@blueprint.get("/desk/warnings/<uuid:warning_id>/test-stop")
@needs("look")
def test_stop_view(warning_id: uuid.UUID) -> str:
    """Show the advice at that place with and without this warning."""
    warning, base = read(warning_id)
    now = datetime.now(UTC)
    day = now.astimezone(desk_fields.zone()).date().isoformat()
    train, state = request.args.get("train"), request.args.get("state")
    with reading() as session:
        found, _ = steps.cleared(session, warning, rule(), now)
        view = controlled_stop.view(session, warning, train, state, day, treated=found.treated)
    return render_template(
        "test-stop.html", view=view, warning_id=warning_id, clearing=found,
        words=overview.title(warning, base),
    )  # fmt: skip
