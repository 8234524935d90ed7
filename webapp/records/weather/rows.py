"""The columns of a file of hourly observations, one schema for file and typed values."""

from __future__ import annotations

import re
from datetime import UTC, datetime
from typing import Any

from marshmallow import RAISE, Schema, ValidationError, fields

from calc.weather.observation import WORDS

_NUMBER = re.compile(r"[+-]?\d+(\.\d+)?")
NOT_SEEN = "or leave the cell empty if it was not observed"


class Seen(fields.Field[float]):
    """A figure that may not have been observed: an empty cell is None, never nought."""

    def __init__(self, low: float, high: float, unit: str, scale: float = 1.0) -> None:
        super().__init__(load_default=None, allow_none=True)
        self.low, self.high, self.unit, self.scale = low, high, unit, scale

    def _deserialize(self, value: Any, attr: Any, data: Any, **kwargs: Any) -> Any:
        text = str(value).strip()
        if not text:
            return None
        if isinstance(value, bool) or not _NUMBER.fullmatch(text):
            raise ValidationError(f"'{text}' is not a number | write digits, {NOT_SEEN}")
        number = float(text)
        if not self.low <= number <= self.high:
            span = f"{self.low:g} to {self.high:g} {self.unit}"
            raise ValidationError(f"{text} is not believed | give {span}, {NOT_SEEN}")
        return number * self.scale


class Word(fields.Field[str]):
    """One word for the weather, or none."""

    def __init__(self) -> None:
        super().__init__(load_default=None, allow_none=True)

    def _deserialize(self, value: Any, attr: Any, data: Any, **kwargs: Any) -> Any:
        text = str(value).strip()
        if text and text not in WORDS:
            choice = ", ".join(WORDS)
            raise ValidationError(f"'{text}' is not known here | write one of {choice}")
        return text or None


class Moment(fields.Field[datetime]):
    """A time with its offset from UTC, so that no hour is there twice in autumn."""

    def _deserialize(self, value: Any, attr: Any, data: Any, **kwargs: Any) -> datetime:
        text = str(value).strip()
        cure = "write it like 2026-10-25T06:00Z or 2026-10-25T07:00+01:00"
        try:
            moment = datetime.fromisoformat(text)
        except ValueError:
            raise ValidationError(f"'{text}' is not a time | {cure}") from None
        if moment.tzinfo is None:
            raise ValidationError(f"'{text}' names no offset from UTC | {cure}")
        moment = moment.astimezone(UTC)
        if moment.minute or moment.second or moment.microsecond:
            raise ValidationError(f"'{text}' is not a whole hour | give one row an hour")
        return moment


class TypedSchema(Schema):
    """What a person types of the present hour; each may be missing."""

    class Meta:
        unknown = RAISE

    air_c = Seen(-45.0, 60.0, "degC")
    humidity_percent = Seen(1.0, 100.0, "per cent", 0.01)
    dew_point_c = Seen(-45.0, 60.0, "degC")
    rain_mm = Seen(0.0, 300.0, "mm")
    wind_mps = Seen(0.0, 60.0, "m/s")
    cloud_oktas = Seen(0.0, 8.0, "eighths", 0.125)
    weather = Word()


class RowSchema(TypedSchema):
    """One row of the file."""

    time = Moment(required=True)


#: Columns of the file in the order its author is told.
COLUMNS = ("time", *TypedSchema().fields)
