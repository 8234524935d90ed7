"""Fields that forms of the desk share: times of its zone, faults beside their fields."""

from __future__ import annotations

import unicodedata
from collections.abc import Iterable
from datetime import UTC, datetime, timedelta
from typing import Any
from zoneinfo import ZoneInfo

from flask import current_app
from flask_wtf import FlaskForm
from wtforms import DateTimeLocalField, IntegerField
from wtforms.validators import InputRequired, Length, StopValidation, ValidationError

from webapp.plain.fields import by_clock

LOCAL = ["%Y-%m-%dT%H:%M", "%Y-%m-%dT%H:%M:%S"]
BAD_TIME = "Type day and time, such as 2026-11-25T06:40."
#: What a desk is told lies between; "26" typed for 2026 becomes the year 26. Own choice.
YEARS = range(2000, 2200)
BAD_YEAR = "Look at the year: type four digits, such as 2026."
SKIPPED = "The clock went forward past this time: there was none. Type the one it showed."


class needed(InputRequired):  # type: ignore[misc]
    """Something that can be seen: who told it is not told by spaces."""

    def __call__(self, form: Any, field: Any) -> None:
        super().__call__(form, field)
        text = field.data
        if isinstance(text, str) and not any(map(_seen, text)):
            raise StopValidation(self.message)


def _seen(character: str) -> bool:
    return character == "\0" or unicodedata.category(character)[0] not in "CZ"


NEEDED = needed("Fill this in.")


class short:
    """So many characters at most, and none that a database cannot hold."""

    def __init__(self, most: int) -> None:
        self._length = Length(max=most, message=f"At most {most} characters.")
        self.field_flags = self._length.field_flags

    def __call__(self, form: Any, field: Any) -> None:
        self._length(form, field)
        if "\0" in (field.data or ""):
            raise ValidationError("Take out the NUL character.")


class When(DateTimeLocalField):  # type: ignore[misc]
    """A time by the railway's clock, in the zone that the page names."""

    data: datetime | None

    def __init__(self, label: str, validators: Iterable[Any] = (), **more: Any) -> None:
        super().__init__(label, validators, format=LOCAL, **more)

    def process_formdata(self, valuelist: list[str]) -> None:
        try:
            super().process_formdata(valuelist)
        except ValueError as error:
            raise ValueError(BAD_TIME) from error
        if self.data is not None and (fault := _no_time(self.data)):
            self.data = None
            raise ValueError(fault)

    def moment(self) -> datetime | None:
        """Return the instant; of the two at the end of summer time the earlier one.

        But in the hour after the later one that is meant: "01:40" typed at 01:50 is ten
        minutes ago.
        """
        return None if self.data is None else _instant(self.data)


class Version(FlaskForm):  # type: ignore[misc]
    """The version that was read, so that the second of two editors hears of the first."""

    version = IntegerField(validators=[NEEDED])


def _no_time(typed: datetime) -> str | None:
    """Say why the desk's clock never showed this; None if it did or will."""
    if typed.year not in YEARS:
        return BAD_YEAR
    return None if local(_instant(typed)) == typed else SKIPPED


def _instant(typed: datetime) -> datetime:
    """In UTC: Python holds a time that comes twice unequal to every other zone's."""
    first, second = (
        typed.replace(tzinfo=zone(), fold=fold).astimezone(UTC) for fold in (0, 1)
    )
    just_now = first < second <= _now() < second + timedelta(hours=1)
    return second if just_now else first


def _now() -> datetime:
    return datetime.now(UTC)


def zone() -> ZoneInfo:
    return ZoneInfo(current_app.config["DESK_ZONE"])


def local(moment: datetime | None) -> datetime | None:
    """Return an instant as the form's fields show it."""
    return None if moment is None else by_clock(moment, zone()).replace(tzinfo=None)


def mark(form: FlaskForm, faults: Iterable[str]) -> None:
    """Put each fault beside its field: they begin with the names of the fields."""
    for fault in faults:
        names, _, sentence = fault.partition(": ")
        field = next((name for name in names.split(", ") if name in form), None)
        if field is None:
            form.form_errors.append(fault)
        else:
            form[field].errors = [*form[field].errors, sentence]
