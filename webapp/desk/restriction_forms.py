"""The forms of the register of restrictions."""

from __future__ import annotations

from typing import Any

from flask_wtf import FlaskForm
from wtforms import HiddenField, IntegerField, RadioField, StringField
from wtforms.validators import Optional

from webapp.desk.editing import directions
from webapp.lines.base import Base
from webapp.records.restrictions.models import Restriction
from webapp.records.restrictions.service import speed_words
from webapp.web.forms import NEEDED, When, local, short

TEXTS = ("direction", "from_place", "to_place", "speed", "reference", "told_by")


class RestrictionForm(FlaskForm):  # type: ignore[misc]
    """A new restriction or a changed one; with `version` the revision that was read."""

    version = IntegerField(validators=[Optional()])
    line = HiddenField()
    direction = RadioField("Direction", [NEEDED], choices=[])
    from_place = StringField("From", [NEEDED, short(40)])
    to_place = StringField("To", [NEEDED, short(40)])
    speed = StringField("Speed", [NEEDED, short(20)])
    from_at = When("Start", [NEEDED])
    until_at = When("End, if the notice has one", [Optional()])
    reference = StringField("Notice reference", [NEEDED, short(120)])
    told_by = StringField("Told by whom", [NEEDED, short(120)])

    def told(self) -> dict[str, Any]:
        """Return the restriction as the service takes it."""
        said: dict[str, Any] = {name: (self[name].data or "").strip() for name in TEXTS}
        said |= {"from_at": self.from_at.moment(), "until_at": self.until_at.moment()}
        return said


class EndForm(FlaskForm):  # type: ignore[misc]
    version = IntegerField(validators=[NEEDED])
    ended_at = When("Withdrawn when", [NEEDED])
    told_by = StringField("Told by whom", [NEEDED, short(120)])
    reason = StringField("Reason", [NEEDED, short(200)])

    def told(self) -> dict[str, Any]:
        """Return the end as the service takes it."""
        said: dict[str, Any] = {
            name: self[name].data.strip() for name in ("told_by", "reason")
        }
        return {**said, "ended_at": self.ended_at.moment()}


def prepared(form: RestrictionForm, base: Base) -> RestrictionForm:
    """Give the form the directions and the unit of its line."""
    form.direction.choices = directions(base)
    form.speed.label.text = f"Speed, {base.speed_words}"
    form.line.data = base.key
    return form


def kept(row: Restriction, base: Base) -> dict[str, Any]:
    """Return a restriction as the fields of its form."""
    return {
        "direction": row.direction,
        "from_place": base.along(row.from_m),
        "to_place": base.along(row.to_m),
        "speed": str(row.speed) if row.unit == base.speed_unit else speed_words(row),
        "from_at": local(row.from_at),
        "until_at": local(row.until_at),
        "reference": row.reference,
        "told_by": row.told_by,
    }
