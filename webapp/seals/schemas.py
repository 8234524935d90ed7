"""What a seal may look like. There is no field for a name or for free words."""

from __future__ import annotations

from typing import Any

import marshmallow as ma

from webapp.fields import Id, Integer, Moment, Strict, Text, choice, sha256

KEY = 120
MOST_WARNINGS = 500
MOST_RESTRICTIONS = 500
MOST_LINES = 200
MOST_REPORTS = 500
MOST_ANSWERS = 60
LONGEST_LINE = 500
#: RFC 8785 has bytes for integers up to here, and no further.
LARGEST = 2**53 - 1


def _range(low: int, high: int) -> ma.validate.Range:
    return ma.validate.Range(low, high, error="Send a whole number from {min} to {max}.")


def _up_to(most: int) -> ma.validate.Length:
    return ma.validate.Length(max=most, error="Send at most {max}.")


class HeldRow(Strict):
    id = Id(required=True)
    rev = Integer(required=True, validate=_range(1, 2**31 - 1))


class PlainAnswer(ma.fields.Field[Any]):
    """A short text, a whole number, true, false or null: what has one spelling in JSON."""

    default_error_messages = {  # noqa: RUF012
        "plain": "Send a text of 1 to 120 characters, a whole number, true, false or null."
    }
    text = Text(KEY)

    def __init__(self, **kwargs: Any) -> None:
        kinds = {"type": ["string", "integer", "boolean"]}
        super().__init__(allow_none=True, metadata={**kinds, "minLength": 1}, **kwargs)

    def _deserialize(self, value: Any, *_args: Any, **_kwargs: Any) -> Any:
        if isinstance(value, str):
            return self.text.deserialize(value)
        whole = isinstance(value, int) or (isinstance(value, float) and value.is_integer())
        if isinstance(value, bool) or (whole and abs(value) <= LARGEST):
            return value
        raise self.make_error("plain")


class SealBody(Strict):
    """`sha256` is over the RFC 8785 bytes of the body without it."""

    sealed_at = Moment(required=True)
    app_build = Text(64, required=True)
    route = Text(KEY, required=True, allow_none=True)
    pack = sha256(required=True, allow_none=True)
    warnings = ma.fields.List(
        ma.fields.Nested(HeldRow), required=True, validate=_up_to(MOST_WARNINGS)
    )
    # Not asked of the tablets that sealed before they held any.
    restrictions = ma.fields.List(
        ma.fields.Nested(HeldRow), validate=_up_to(MOST_RESTRICTIONS)
    )
    card = ma.fields.List(Text(LONGEST_LINE), required=True, validate=_up_to(MOST_LINES))
    preparation = ma.fields.Dict(
        keys=Text(KEY), values=PlainAnswer(), required=True, validate=_up_to(MOST_ANSWERS)
    )
    clock_offset_s = Integer(
        required=True, allow_none=True, validate=_range(-LARGEST, LARGEST)
    )
    unsent = ma.fields.List(Id(), required=True, validate=_up_to(MOST_REPORTS))
    sha256 = sha256(required=True)


class SealItem(Strict):
    kind = choice("seal", required=True)
    id = Id(required=True)
    seq = Integer(required=True, validate=_range(1, 2**31 - 1))
    observed_at = Moment(required=True)
    body = ma.fields.Nested(SealBody, required=True)
