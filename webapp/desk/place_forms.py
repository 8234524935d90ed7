"""The forms of the register, and what a person typed in the shape the service takes."""

from __future__ import annotations

import calendar
from collections.abc import Sequence
from typing import Any

from flask_wtf import FlaskForm
from wtforms import HiddenField, IntegerField, RadioField, SelectField, StringField
from wtforms.fields.choices import SelectChoice
from wtforms.validators import Optional

from webapp.desk import editing
from webapp.lines.base import Base, State
from webapp.records.places import treatments
from webapp.records.places.proposals import Proposal
from webapp.records.places.register import Place
from webapp.web.forms import NEEDED, When, short


class PlaceForm(FlaskForm):  # type: ignore[misc]
    """A new listed place or a changed one; with `version` the revision that was read."""

    version = IntegerField(validators=[Optional()])
    line = HiddenField()
    proposal = HiddenField()
    name = StringField("Name", [NEEDED, short(120)])
    direction = RadioField("Direction", [NEEDED], choices=[])
    from_place = StringField("From", [NEEDED, short(40)])
    to_place = StringField("To", [NEEDED, short(40)])
    state = SelectField("Rail state to plan with there", [NEEDED], choices=[])
    season_from = StringField("Season, first day", [short(5)])
    season_to = StringField("Season, last day", [short(5)])
    reason = StringField("Reason", [NEEDED, short(200)])
    source = StringField("Source", [NEEDED, short(200)])


class Retire(FlaskForm):  # type: ignore[misc]
    version = IntegerField(validators=[NEEDED])
    reason = StringField("Why it is taken off the list", [NEEDED, short(200)])


class TreatmentForm(FlaskForm):  # type: ignore[misc]
    done_at = When("When", [NEEDED])
    means = RadioField(
        "By what", [NEEDED], choices=[SelectChoice(w, w) for w in treatments.MEANS]
    )
    outcome = RadioField(
        "How", [NEEDED], choices=[SelectChoice(w, w) for w in treatments.OUTCOMES]
    )
    next_line = RadioField(
        "Next line treated as well",
        [NEEDED],
        choices=[SelectChoice(w, w) for w in treatments.NEXT_LINE],
    )
    told_by = StringField("Told by whom", [NEEDED, short(120)])
    note = StringField("Note", [short(200)])

    def told(self) -> dict[str, Any]:
        """Return the treatment as the service takes it."""
        names = ("means", "outcome", "next_line", "told_by", "note")
        said = {name: (self[name].data or "").strip() for name in names}
        return {**said, "done_at": self.done_at.moment()}


class StrikeForm(FlaskForm):  # type: ignore[misc]
    """A treatment taken back."""

    told_by = StringField("Told by whom", [NEEDED, short(120)])
    note = StringField("Why it is taken back", [NEEDED, short(200)])

    def told(self) -> dict[str, str]:
        """Return who said so and why, as the service takes it."""
        return {name: self[name].data.strip() for name in ("told_by", "note")}


class Decline(FlaskForm):  # type: ignore[misc]
    proposal = IntegerField(validators=[NEEDED])
    newest = IntegerField(validators=[NEEDED])
    reason = StringField("Why not", [NEEDED, short(200)])


TYPED = (
    *("name", "direction", "from_place", "to_place", "state"),
    *("season_from", "season_to", "reason", "source"),
)


def prepared(form: PlaceForm, base: Base) -> PlaceForm:
    """Give the form the choices of its line."""
    form.direction.choices = editing.directions(base)
    # The best state is no listing.
    form.state.choices = [SelectChoice("", "Choose"), *editing.states(base)[1:]]
    form.line.data = base.key
    return form


def kept_fields(place: Place, base: Base) -> dict[str, str]:
    """Return a place as the fields of its form."""
    ends = {"from_place": place.from_m, "to_place": place.to_m}
    said = {name: str(getattr(place, name)) for name in TYPED if name not in ends}
    return {**said, **{name: base.along(at) for name, at in ends.items()}}


def typed(form: PlaceForm) -> dict[str, str]:
    """Return what was typed, by the columns that a route's file has."""
    return columns({name: (form[name].data or "").strip() for name in TYPED})


def columns(said: dict[str, str]) -> dict[str, str]:
    """Return the fields of the form by the columns that a route's file has."""
    return {**said, "from": said["from_place"], "to": said["to_place"]}


def proposed(one: Proposal, base: Base) -> dict[str, Any]:
    """Return what the form begins with; every word of it may be typed over."""
    numbers = ", ".join(map(str, sorted(row.server_no for row in one.reports)))
    source = f"drivers' reports of this depot, no. {numbers}"
    many = f"{len(one.reports)} reportable reports on {len(one.days)} days"
    return {
        "name": _near(base, (one.from_m + one.to_m) / 2),
        "direction": one.direction,
        "from_place": base.along(one.from_m),
        "to_place": base.along(one.to_m),
        "state": _state(one, base.pickable),
        **_season(one),
        "reason": _reason(one, many),
        "source": source if len(source) <= 200 else f"{source[:190]} and more",
        "proposal": str(one.first),
    }


def _near(base: Base, at: float) -> str:
    if not base.places:
        return ""
    return f"near {min(base.places, key=lambda one: abs(one.at_m - at)).name}"


def _state(one: Proposal, pickable: Sequence[State]) -> str:
    """Return the next worse state than the worst the drivers planned with, or it is listed as.

    A train that ran past its mark, or used emergency, met the worst that can be planned with.
    """
    keys = [state.key for state in pickable]
    if any("|overrun|" in row.happened for row in one.reports):
        return str(keys[-1])
    known = [row.rail_state for row in one.reports] + [place.state for place in one.listed]
    planned = [keys.index(state) for state in known if state in keys]
    return str(keys[min(max(planned, default=0) + 1, len(keys) - 1)])


def _season(one: Proposal) -> dict[str, str]:
    """Return the whole months in which it was met: of the others nothing is known.

    Over a new year the season runs over it too; where all months were met it is all year.
    """
    months = [(day.year, day.month) for day in one.days]
    (_, first), (year, last) = min(months), max(months)
    if (year * 12 + last) - (min(months)[0] * 12 + first) >= 11:
        return {}
    end = calendar.monthrange(2027, last)[1]
    return {"season_from": f"{first:02}-01", "season_to": f"{last:02}-{end:02}"}


def _reason(one: Proposal, many: str) -> str:
    signs = sorted({sign for row in one.reports for sign in row.happened.split("|") if sign})
    return ": ".join([many, *([", ".join(signs)] if signs else [])])[:200]
