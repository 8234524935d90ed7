"""What a report says: its fields, and the words that they may hold; see PROTOCOL.md."""

from __future__ import annotations

from typing import Any

import marshmallow as ma

from webapp.plain.agreed import MOST_TEXT
from webapp.plain.fields import Id, Moment, Number, Strict, Text, Truth, choice, sha256

WORDS_FOUND = ("good", "expected", "reportable")
WORDS_HAPPENED = (
    "slide",
    "slip at start",
    "overrun",
    "stopped short",
    "leaves",
    "dull railhead",
    "mist",
    "first rain",
)
WORDS_STEP = ("1", "2", "3", "emergency")
WORDS_WEATHER = ("dry", "drizzle", "rain", "mist", "frost", "snow")

KEY = 120


def in_range(low: float, high: float) -> ma.validate.Range:
    """Refuse a number outside; the sentence names both ends."""
    return ma.validate.Range(low, high, error="Send a number from {min} to {max}.")


def _each_once(words: list[str]) -> None:
    if len(set(words)) < len(words):
        raise ma.ValidationError("Name each sign once.")


class Position(Strict):
    lat = Number(required=True, validate=in_range(-90, 90))
    lon = Number(required=True, validate=in_range(-180, 180))
    accuracy_m = Number(required=True, validate=in_range(0, 1e7))
    age_s = Number(required=True, validate=in_range(0, 1e9))


class ReportBody(Strict):
    """A field that may be null may also be left out; what is not known is never guessed."""

    route = Text(KEY, required=True)
    pack = sha256(load_default=None, allow_none=True)
    direction = Text(KEY, required=True)
    target = Text(KEY, load_default=None, allow_none=True)
    place = Text(200, load_default=None, allow_none=True)
    at_m = Number(load_default=None, allow_none=True, validate=in_range(-1e6, 1e7))
    position = ma.fields.Nested(Position, load_default=None, allow_none=True)
    found = choice(*WORDS_FOUND, required=True)
    happened = ma.fields.List(
        choice(*WORDS_HAPPENED),
        load_default=list,
        validate=_each_once,
    )
    step = choice(*WORDS_STEP, load_default=None, allow_none=True)
    weather = choice(*WORDS_WEATHER, load_default=None, allow_none=True)
    sand_used = Truth(load_default=None, allow_none=True)
    flats_suspected = Truth(load_default=False)
    train_not_seen = Truth(load_default=False)
    told_signaller_at = Moment(load_default=None, allow_none=True)
    text = Text(MOST_TEXT, empty=True, load_default="")
    train = Text(KEY, load_default=None, allow_none=True)
    rail_state = Text(KEY, load_default=None, allow_none=True)
    driver_name = Text(100, load_default=None, allow_none=True)
    supersedes = Id(load_default=None, allow_none=True)


#: Every field, for reports that left out what may be null.
BLANK: dict[str, Any] = dict.fromkeys(ReportBody().fields)
