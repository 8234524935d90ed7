"""The forms of the desk's warnings, and what a person typed in the shape the service takes."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import datetime
from typing import Any

from flask_wtf import FlaskForm
from wtforms import (
    HiddenField,
    IntegerField,
    RadioField,
    SelectField,
    StringField,
    TextAreaField,
)
from wtforms.fields.choices import SelectChoice
from wtforms.validators import Optional

from webapp.desk import editing
from webapp.lines.base import Base, unit_of
from webapp.lines.posts import place_along
from webapp.records.warnings.models import Warned
from webapp.web.forms import NEEDED, When, local, short


class Telling(FlaskForm):  # type: ignore[misc]
    """Who said it, when, under which reference."""

    told_by = StringField("Told by whom", [NEEDED, short(120)])
    told_at = When("Told at", [Optional()])
    reference = StringField("Reference of the signaller's entry", [short(120)])


class WarningForm(Telling):
    """A new warning or an amended one; with `version` the revision that was read."""

    version = IntegerField(validators=[Optional()])
    line = HiddenField()
    report = HiddenField()
    direction = RadioField("Direction", [NEEDED], choices=[])
    from_place = StringField("From", [NEEDED, short(40)])
    to_place = StringField("To", [NEEDED, short(40)])
    state = SelectField("Rail state to plan with", [Optional()], choices=[])
    adhesion = StringField("Or an adhesion", [short(10)])
    reason = StringField("Reason", [NEEDED, short(200)])
    from_at = When("From when", [NEEDED])
    review_at = When("Ask again at", [Optional()])


class EndForm(Telling):
    """The end, as the signaller told it."""

    version = IntegerField(validators=[NEEDED])
    told_at = When("Told at", [NEEDED])
    override = TextAreaField("Why it ended without what is missing", [short(500)])
    aside = StringField("Why they are set aside", [short(200)])


class StepForm(Telling):
    """One step of clearing."""

    kind = RadioField("What was done", [NEEDED], choices=[])
    result = RadioField("Test stop found", [Optional()], choices=[])
    told_at = When("When it was done, as told", [NEEDED])
    note = StringField("Note", [short(200)])


class StrikeForm(Telling):
    """A step taken back."""

    told_at = When("Told at", [NEEDED])
    note = StringField("Why it is taken back", [NEEDED, short(200)])


def prepared(form: WarningForm, base: Base) -> WarningForm:
    """Give the form the choices of its line."""
    form.direction.choices = editing.directions(base)
    form.state.choices = [
        SelectChoice("", "(choose, or type an adhesion)"),
        *editing.states(base),
    ]
    form.line.data = base.key
    return form


def kept_fields(warning: Warned, base: Base | None) -> dict[str, Any]:
    """Return a warning as the fields of its form."""
    return {
        "line": warning.line_key,
        "direction": warning.direction,
        "from_place": place_along(warning.from_m, unit_of(base)),
        "to_place": place_along(warning.to_m, unit_of(base)),
        "state": warning.plan_state,
        "reason": warning.reason,
        "from_at": local(warning.from_at),
        "review_at": local(warning.review_at),
        "told_by": warning.told_by,
        "told_at": local(warning.told_at),
        "reference": warning.reference,
    }


def typed(form: WarningForm) -> dict[str, Any]:
    """Return what was typed as the service reads it."""
    return {
        "line": form.line.data or "",
        "direction": form.direction.data or "",
        "from_place": (form.from_place.data or "").strip(),
        "to_place": (form.to_place.data or "").strip(),
        "state": form.state.data or None,
        "adhesion": number(form.adhesion.data),
        "reason": (form.reason.data or "").strip(),
        "from_at": rfc3339(form.from_at.moment()) or "",
        "review_at": rfc3339(form.review_at.moment()),
        "told_by": (form.told_by.data or "").strip(),
        "told_at": rfc3339(form.told_at.moment()),
        "reference": (form.reference.data or "").strip(),
    }


def changes(form: WarningForm, warning: Warned, base: Base | None) -> dict[str, Any]:
    """Return what was typed without the two ends, if they stand as they stood."""
    given = typed(form)
    before = kept_fields(warning, base)
    if all(given[end] == before[end] for end in ("from_place", "to_place")):
        del given["from_place"], given["to_place"]
    if given["adhesion"] is None:
        del given["adhesion"]
    elif given["state"] == before["state"]:
        given["state"] = None
    return given


def pairs(words: Iterable[str]) -> list[SelectChoice]:
    return [SelectChoice(word, word) for word in words]


def told(form: Telling) -> dict[str, Any]:
    """Return who said it, when and under which reference."""
    return {
        "told_by": (form.told_by.data or "").strip(),
        "told_at": form.told_at.moment(),
        "reference": (form.reference.data or "").strip(),
    }


def step(form: StepForm) -> dict[str, Any]:
    """Return one step of clearing as the service takes it."""
    return {
        **told(form),
        "kind": form.kind.data,
        "result": form.result.data or None,
        "note": (form.note.data or "").strip(),
    }


def number(text: str | None) -> float | str | None:
    """Return a typed number; what is none goes on as it is, to be refused by name."""
    if not (text or "").strip():
        return None
    try:
        return float(str(text).strip().replace(",", "."))
    except ValueError:
        return str(text)


def rfc3339(moment: datetime | None) -> str | None:
    return None if moment is None else moment.isoformat(timespec="seconds")
