"""What a batch and a report must look like; the contract is in PROTOCOL.md."""

from __future__ import annotations

import marshmallow as ma

from webapp.plain.agreed import MOST_ITEMS, MOST_TEXT
from webapp.plain.fields import (
    Id,
    Integer,
    Moment,
    Number,
    Strict,
    Text,
    Truth,
    choice,
    sha256,
)
from webapp.records.reports.words import WORDS_FOUND, WORDS_HAPPENED, WORDS_STEP, WORDS_WEATHER

KEY = 120


def _range(low: float, high: float) -> ma.validate.Range:
    return ma.validate.Range(low, high, error="Send a number from {min} to {max}.")


def _each_once(words: list[str]) -> None:
    if len(set(words)) < len(words):
        raise ma.ValidationError("Name each sign once.")


class Position(Strict):
    lat = Number(required=True, validate=_range(-90, 90))
    lon = Number(required=True, validate=_range(-180, 180))
    accuracy_m = Number(required=True, validate=_range(0, 1e7))
    age_s = Number(required=True, validate=_range(0, 1e9))


class ReportBody(Strict):
    """A field that may be null may also be left out; what is not known is never guessed."""

    route = Text(KEY, required=True)
    pack = sha256(load_default=None, allow_none=True)
    direction = Text(KEY, required=True)
    target = Text(KEY, load_default=None, allow_none=True)
    place = Text(200, load_default=None, allow_none=True)
    at_m = Number(load_default=None, allow_none=True, validate=_range(-1e6, 1e7))
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


class ReportItem(Strict):
    kind = choice("report", required=True)
    id = Id(required=True)
    seq = Integer(required=True, validate=_range(1, 2**31 - 1))
    observed_at = Moment(required=True)
    body = ma.fields.Nested(ReportBody, required=True)


# The schemas of `service.KINDS`, and anything else: what is not known is answered by name.
KNOWN_ITEMS: list[dict[str, str]] = [
    {"$ref": "#/components/schemas/ReportItem"},
    {"$ref": "#/components/schemas/CountsItem"},
    {"$ref": "#/components/schemas/ReceiptItem"},
    {"$ref": "#/components/schemas/SealItem"},
    {},
]


class Offered(Strict):
    """An item that the depot had before it was put back, and the number it bore then."""

    id = Id(required=True)
    server_no = Integer(required=True, allow_none=True, validate=_range(1, 2**53))


class BatchIn(Strict):
    """The envelope. Its items are checked singly, later: one bad item spoils no other."""

    install_id = Id(required=True)
    sent_at = Moment(required=True)
    app_build = Text(64, required=True)
    # Whether the app runs installed; builds before this one do not say.
    installed = Truth(load_default=None, allow_none=True)
    # Only in a delivery of what is offered again: see Depot in PROTOCOL.md.
    offered = ma.fields.List(ma.fields.Nested(Offered), load_default=list)
    items = ma.fields.List(
        ma.fields.Raw(
            allow_none=True,
            metadata={"anyOf": KNOWN_ITEMS},
        ),
        required=True,
        metadata={"maxItems": MOST_ITEMS},
    )


class ResultOut(ma.Schema):
    """A known fault names its code and, where it has some, the faults by field."""

    id = ma.fields.String(required=True, allow_none=True)
    result = choice("created", "duplicate", "rejected", "retry", "removed", required=True)
    server_no = ma.fields.Integer(required=True, allow_none=True)
    received_at = ma.fields.Raw(
        required=True, metadata={"type": ["string", "null"], "format": "date-time"}
    )
    code = ma.fields.String()
    errors = ma.fields.Dict()

    @ma.post_dump
    def leave_out_empty(self, data: dict[str, object], **_kwargs: object) -> dict[str, object]:
        return {
            name: value
            for name, value in data.items()
            if value is not None or name not in {"code", "errors"}
        }


class BatchOut(ma.Schema):
    server_time = ma.fields.Raw(
        required=True, metadata={"type": "string", "format": "date-time"}
    )
    results = ma.fields.List(ma.fields.Nested(ResultOut), required=True)
