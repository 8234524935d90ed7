"""marshmallow fields that take what JSON Schema would take, and say what to do otherwise."""

from __future__ import annotations

import math
import re
import uuid
from collections.abc import Mapping
from datetime import UTC, datetime, timedelta, tzinfo
from typing import Any

import marshmallow as ma

RFC3339 = re.compile(
    r"\d{4}-\d\d-\d\d[Tt]\d\d:\d\d:\d\d(\.\d{1,9})?([Zz]|[+-]\d\d:\d\d)", re.ASCII
)
#: So far ahead may a time told to the desk lie: two clocks differ. Own choice.
CLOCKS_DIFFER = timedelta(minutes=5)
EARLIEST = datetime.min.replace(tzinfo=UTC)
LATEST = datetime.max.replace(tzinfo=UTC)


class Strict(ma.Schema):
    """A body in which a field we do not know is an error, never silently dropped."""

    class Meta:
        unknown = ma.RAISE

    error_messages = {  # noqa: RUF012
        "unknown": "This field is not known here. Leave it out, or update the server.",
        "type": "Send an object with named fields.",
    }


class Integer(ma.fields.Integer):
    """4 and 4.0, never "4", 4.5 or true."""

    default_error_messages = {"invalid": "Send a whole number."}  # noqa: RUF012

    def _deserialize(self, value: Any, *_args: Any, **_kwargs: Any) -> int:
        if isinstance(value, bool) or not isinstance(value, int | float):
            raise self.make_error("invalid", input=value)
        # An int is never turned into a float: one of 400 digits does not fit there.
        if isinstance(value, float) and not value.is_integer():
            raise self.make_error("invalid", input=value)
        return int(value)


class Number(ma.fields.Float):
    """A finite number, never a string or a truth value."""

    default_error_messages = {"invalid": "Send a number."}  # noqa: RUF012

    def _deserialize(self, value: Any, *_args: Any, **_kwargs: Any) -> float:
        if isinstance(value, bool) or not isinstance(value, int | float):
            raise self.make_error("invalid", input=value)
        try:
            number = float(value)
        except OverflowError as error:
            raise self.make_error("invalid", input=value) from error
        if not math.isfinite(number):
            raise self.make_error("invalid", input=value)
        return number


class Truth(ma.fields.Boolean):
    """true or false, never "yes" or 1."""

    default_error_messages = {"invalid": "Send true or false."}  # noqa: RUF012

    def _deserialize(self, value: Any, *_args: Any, **_kwargs: Any) -> bool:
        if not isinstance(value, bool):
            raise self.make_error("invalid", input=value)
        return value


class Text(ma.fields.String):
    """Text of bounded length that every database and every page can hold."""

    default_error_messages = {  # noqa: RUF012
        "nul": "Take out the NUL character.",
        "surrogate": "Take out the half character (unpaired surrogate).",
        "long": "Shorten this to at most {longest} characters.",
        "short": "Write at least one character, or send null if the field allows it.",
    }

    def __init__(self, longest: int, *, empty: bool = False, **kwargs: Any) -> None:
        metadata = {"maxLength": longest, "minLength": 0 if empty else 1}
        super().__init__(metadata=metadata, **kwargs)
        self.longest, self.empty = longest, empty

    def _deserialize(
        self, value: Any, attr: str | None, data: Mapping[str, Any] | None, **kwargs: Any
    ) -> str:
        text = super()._deserialize(value, attr, data, **kwargs)
        if "\0" in text:
            raise self.make_error("nul")
        if any("\ud800" <= character <= "\udfff" for character in text):
            raise self.make_error("surrogate")
        if len(text) > self.longest:
            raise self.make_error("long", longest=self.longest)
        if not text and not self.empty:
            raise self.make_error("short")
        return text


class Moment(ma.fields.AwareDateTime):
    """An RFC 3339 time with its offset from UTC, however wrong the clock that gave it.

    The last hours before year 1 and after 9999 become the nearest time there is: a report
    is not refused for its tablet's clock, and what was sent is kept to the letter.
    """

    default_error_messages = {  # noqa: RUF012
        "invalid": "Send an RFC 3339 time with offset, such as 2026-11-25T06:40:00+00:00.",
    }

    def _deserialize(self, value: Any, *_args: Any, **_kwargs: Any) -> datetime:
        if not isinstance(value, str) or not RFC3339.fullmatch(value):
            raise self.make_error("invalid", input=value)
        try:
            moment = datetime.fromisoformat(value.upper())
        except ValueError as error:
            raise self.make_error("invalid", input=value) from error
        return in_range(moment)


def storable(text: str) -> str:
    """Return the text; a ValueError for what no database can hold or compare."""
    if "\0" in text or any("\ud800" <= character <= "\udfff" for character in text):
        raise ValueError("a NUL or half a character")
    return text


def written(moment: datetime, zone: tzinfo, form: str, exactly: str) -> str:
    """Write what a zone's clock showed; an instant for which it has no date in full."""
    try:
        return moment.astimezone(zone).strftime(form)
    except OverflowError:
        return moment.isoformat(" ", exactly)


def by_clock(moment: datetime, zone: tzinfo) -> datetime:
    """Return what a zone's clock shows at an instant; at the ends of the calendar in UTC.

    The first hours of year 1 had not begun in the west, the last of 9999 are over in the
    east; a tablet's clock may say either, and its report must open all the same.
    """
    try:
        return moment.astimezone(zone)
    except OverflowError:
        return in_range(moment).astimezone(UTC)


def in_range(moment: datetime) -> datetime:
    """Return the same instant, or the nearest that every zone's arithmetic can hold."""
    try:
        moment.astimezone(UTC)
    except OverflowError:
        return EARLIEST if moment.year == EARLIEST.year else LATEST
    return moment


class Id(ma.fields.UUID):
    """A UUID written the canonical way, so that the same id has one spelling."""

    default_error_messages = {  # noqa: RUF012
        "invalid_uuid": "Send a UUID in lower case with hyphens.",
    }

    def _deserialize(self, value: Any, *_args: Any, **_kwargs: Any) -> uuid.UUID:
        try:
            found = uuid.UUID(value) if isinstance(value, str) else None
        except ValueError:
            found = None
        if found is None or str(found) != value:
            raise self.make_error("invalid_uuid")
        return found


def sha256(**kwargs: Any) -> ma.fields.String:
    """A sha-256 in hexadecimal, as files are named."""
    return ma.fields.String(
        validate=[
            ma.validate.Regexp(r"^[0-9a-f]{64}$", error="Send 64 hexadecimal digits."),
            ma.validate.Length(max=64),
        ],
        **kwargs,
    )


def choice(*words: str, **kwargs: Any) -> ma.fields.String:
    """One of a few fixed words."""
    return ma.fields.String(
        validate=ma.validate.OneOf(words, error="Send one of: {choices}."), **kwargs
    )


def fault_sentences(messages: Any, where: str = "") -> list[str]:
    """Write faults by field, however deep, as sentences that begin with the field."""
    if isinstance(messages, dict):
        return [
            sentence
            for name, part in messages.items()
            for sentence in fault_sentences(part, f"{where}, {name}" if where else str(name))
        ]
    return [f"{where}: {sentence}" for sentence in messages]
