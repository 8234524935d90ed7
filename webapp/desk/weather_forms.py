"""The forms of a line's weather: a file, its columns, this hour as typed, worse by hand."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from flask_wtf import FlaskForm
from flask_wtf.file import FileField, FileRequired
from wtforms import (
    BooleanField,
    FloatField,
    IntegerField,
    RadioField,
    SelectField,
    StringField,
)
from wtforms.fields.choices import SelectChoice
from wtforms.validators import NumberRange, Optional, ValidationError

from calc.weather.observation import WORDS
from webapp.lines.base import Base
from webapp.records.weather.columns import CLOCKS, UNITS
from webapp.records.weather.held import Station
from webapp.records.weather.rows import COLUMNS
from webapp.web.forms import NEEDED, When, short

NOT_USED = ""
WEEK_HOURS = 168
WEATHERS = [SelectChoice("", "not looked at"), *(SelectChoice(one, one) for one in WORDS)]
FIGURES = ("air_c", "humidity_percent", "dew_point_c", "rain_mm", "wind_mps", "cloud_oktas")


class FileForm(FlaskForm):  # type: ignore[misc]
    """A file of hours, and where they are of."""

    file = FileField(
        "File of hours: CSV, or JSON of hourly arrays", [FileRequired("Choose the file.")]
    )
    station = StringField("Station, if the file is of one", [short(120)])
    latitude = FloatField("Its latitude, degrees north", [Optional(), NumberRange(-90, 90)])
    longitude = FloatField("Its longitude, degrees east", [Optional(), NumberRange(-180, 180)])

    again = BooleanField("Ask again which column is which")

    def where(self) -> Station:
        """Return the station as it was typed; half a place is none."""
        at = (self.latitude.data, self.longitude.data)
        whole = at if None not in at else None
        return Station((self.station.data or "").strip(), whole)


def _within_a_week(_form: FlaskForm, field: IntegerField) -> None:
    # WTForms' own range makes a float of it, which a number of forty digits does not bear.
    if field.data is not None and not 0 <= field.data <= WEEK_HOURS:
        raise ValidationError(f"Give whole hours, 0 to {WEEK_HOURS}, or leave it empty.")


class TypedForm(FlaskForm):  # type: ignore[misc]
    """The present hour as somebody sees it; an empty field was not looked at."""

    air_c = StringField("Air temperature, °C", [short(12)])
    humidity_percent = StringField("Relative humidity, %", [short(12)])
    dew_point_c = StringField("Dew point, °C", [short(12)])
    rain_mm = StringField("Rain of the last hour, mm", [short(12)])
    wind_mps = StringField("Wind, m/s", [short(12)])
    cloud_oktas = StringField("Cloud, eighths of the sky", [short(12)])
    weather = SelectField("Weather", choices=WEATHERS, default=NOT_USED)
    dry_hours = IntegerField("Dry hours before it, if known", [Optional(), _within_a_week])

    def typed(self) -> dict[str, str]:
        """Return the fields as the row of a file has them."""
        return {name: (self[name].data or "").strip() for name in (*FIGURES, "weather")}


class WorseForm(FlaskForm):  # type: ignore[misc]
    """A worse state for some hours of the line."""

    state = RadioField("Not better than", [NEEDED], choices=[])
    from_at = When("From", [NEEDED])
    until_at = When("Until", [NEEDED])
    reason = StringField("Why", [NEEDED, short(200)])

    def told(self) -> dict[str, Any]:
        """Return the change as it is kept."""
        said = {"state": self.state.data, "reason": self.reason.data.strip()}
        return {**said, "from_at": self.from_at.moment(), "until_at": self.until_at.moment()}


class BackForm(FlaskForm):  # type: ignore[misc]
    """Why a person's worse state is taken back."""

    reason = StringField("Why", [NEEDED, short(200)])


def prepared(form: WorseForm, base: Base) -> WorseForm:
    """Give the form the states a driver of this line may pick."""
    form.state.choices = [SelectChoice(state.key, state.name) for state in base.pickable]
    return form


def mapped(form: Mapping[str, str]) -> dict[str, dict[str, str]]:
    """Return which column is which as it was chosen: one select a column, one its unit."""
    found = {}
    for name in COLUMNS:
        heading = form.get(f"heading-{name}", NOT_USED)
        if heading != NOT_USED:
            found[name] = {"heading": heading, "unit": form.get(f"unit-{name}", "")}
    return found


def units_of(name: str) -> list[tuple[str, str]]:
    """Return the units of a column with their words; of time the clocks."""
    if name == "time":
        return list(CLOCKS.items())
    return [(key, words) for key, (words, _, _) in UNITS[name].items()]
