from __future__ import annotations

from flask_wtf import FlaskForm
from wtforms import SelectField, StringField

from webapp.web.forms import NEEDED, short


class Inspected(FlaskForm):  # type: ignore[misc]
    inspected_by = StringField("Inspected by", [NEEDED, short(120)])
    result = StringField("Found", [NEEDED, short(200)])


class Barred(FlaskForm):  # type: ignore[misc]
    line_key = SelectField("Line")
    place = StringField("Where", [NEEDED, short(120)])
    trains = StringField("Which trains", [NEEDED, short(120)])
    reason = StringField("Why", [NEEDED, short(200)])
    decided_by = StringField("Decided by", [NEEDED, short(120)])
