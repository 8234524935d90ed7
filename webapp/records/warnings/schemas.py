"""What the feed is asked and what it answers; the contract is in PROTOCOL.md of the outbox."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import datetime
from typing import Any

import marshmallow as ma

from webapp.plain.agreed import MOST_BEFORE, MOST_SAID
from webapp.plain.fields import Id, Integer, Moment, Number, Strict, Text, choice, sha256
from webapp.plain.jsontext import rfc3339
from webapp.records.warnings.typed import TypedWarning, adhesion

LONGEST_NUMBER = 15
NUMBER = {"minimum": 0, "maximum": 10**LONGEST_NUMBER - 1}


class Count(ma.fields.Integer):
    """A number in an address: plain digits, no sign, no space."""

    default_error_messages = {"invalid": "Send a whole number of digits only."}  # noqa: RUF012

    def _deserialize(
        self, value: Any, attr: str | None, data: Mapping[str, Any] | None, **kwargs: Any
    ) -> int:
        text = str(value)
        if not (text.isascii() and text.isdigit() and len(text) <= LONGEST_NUMBER):
            raise self.make_error("invalid", input=value)
        return int(text)


class FeedIn(ma.Schema):
    """0 asks for the whole, and `held` is the number that is held; older builds of the app
    send that number as `since`, and wait for changes.
    """

    since = Count(required=True, metadata=NUMBER)
    held = Count(load_default=0, metadata=NUMBER)
    mark = ma.fields.String(
        load_default="",
        validate=ma.validate.Regexp(
            r"^([0-9a-f]{16})?$", error="Send the mark that came with the number."
        ),
    )
    epoch = ma.fields.String(
        load_default="",
        validate=ma.validate.Regexp(
            r"^([0-9a-f]{16})?$", error="Send the epoch that came with the number."
        ),
    )


class WarningOut(ma.Schema):
    """A warning in force, or the end of one held from before a restore: then six fields."""

    id = ma.fields.UUID(required=True)
    rev = ma.fields.Integer(required=True)
    feed_no = ma.fields.Integer(required=True)
    status = ma.fields.String(
        required=True, validate=ma.validate.OneOf(["published", "ended"])
    )
    line = ma.fields.String(required=True)
    direction = ma.fields.String(required=True)
    datum = ma.fields.String()
    from_m = ma.fields.Float()
    to_m = ma.fields.Float()
    state = ma.fields.String()
    reason = ma.fields.String()
    from_at = ma.fields.String(metadata={"format": "date-time"})
    review_at = ma.fields.String(allow_none=True, metadata={"format": "date-time"})
    told_by = ma.fields.String()
    reference = ma.fields.String()
    ended_at = ma.fields.String(metadata={"format": "date-time"})


class FeedOut(ma.Schema):
    feed_no = ma.fields.Integer(required=True)
    mark = ma.fields.String(required=True)
    server_time = ma.fields.String(required=True, metadata={"format": "date-time"})
    items = ma.fields.List(ma.fields.Nested(WarningOut), required=True)
    more = ma.fields.Boolean(required=True)
    epoch = ma.fields.String(required=True)
    restored = ma.fields.Boolean(required=True)


MOST_PACKS = 50


class HeldPack(Strict):
    """The pack that opens on the tablet for a line."""

    route = Text(120, required=True)
    pack = sha256(required=True)


class SaidOf(Strict):
    """One revision of one warning."""

    warning = Id(required=True)
    rev = Integer(
        required=True,
        validate=ma.validate.Range(1, 2**31 - 1, error="Send a whole number from 1 on."),
    )


def _up_to(schema: type[ma.Schema], most: int) -> Any:
    return ma.fields.List(
        ma.fields.Nested(schema),
        required=True,
        validate=ma.validate.Length(max=most, error="Send at most {max}."),
    )


class HeldBefore(Strict):
    """A warning that a tablet holds and that this depot, put back since, did not name."""

    id = Id(required=True)
    rev = Integer(required=True, validate=ma.validate.Range(1, 2**31 - 1))
    line = Text(120, required=True)
    direction = Text(120, required=True)
    datum = Text(200, required=True, empty=True)
    from_m = Number(required=True)
    to_m = Number(required=True)
    state = Text(120, required=True)
    reason = Text(200, required=True, empty=True)
    from_at = Moment(required=True)
    review_at = Moment(required=True, allow_none=True)
    told_by = Text(120, load_default="", empty=True)
    reference = Text(120, load_default="", empty=True)


class ReceiptBody(Strict):
    """All packs the tablet holds; of warnings only what is new since the last receipt."""

    packs = _up_to(HeldPack, MOST_PACKS)
    received = _up_to(SaidOf, MOST_SAID)
    seen = _up_to(SaidOf, MOST_SAID)
    before = ma.fields.List(
        ma.fields.Nested(HeldBefore),
        load_default=list,
        validate=ma.validate.Length(max=MOST_BEFORE),
        metadata={"maxItems": MOST_BEFORE},
    )


class ReceiptItem(Strict):
    """No number, no time of its own, no position, no trip, no name."""

    kind = choice("receipt", required=True)
    id = Id(required=True)
    body = ma.fields.Nested(ReceiptBody, required=True)


# For programs of the desk.


class DeskWarning(ma.Schema):
    """A warning as it stands, drafts and ended ones as well."""

    id = ma.fields.UUID(required=True)
    rev = ma.fields.Integer(required=True)
    status = choice("draft", "published", "ended", required=True)
    line = ma.fields.String(required=True)
    direction = ma.fields.String(required=True)
    datum = ma.fields.String(required=True)
    from_m = ma.fields.Float(required=True)
    to_m = ma.fields.Float(required=True)
    from_place = ma.fields.String(required=True)
    to_place = ma.fields.String(required=True)
    state = ma.fields.String(required=True)
    reason = ma.fields.String(required=True)
    told_by = ma.fields.String(required=True)
    reference = ma.fields.String(required=True)
    report = ma.fields.UUID(required=True, allow_none=True)
    from_at = ma.fields.String(required=True, metadata={"format": "date-time"})
    changed_at = ma.fields.String(required=True, metadata={"format": "date-time"})
    review_at = ma.fields.String(
        required=True, allow_none=True, metadata={"format": "date-time"}
    )
    told_at = ma.fields.String(
        required=True, allow_none=True, metadata={"format": "date-time"}
    )
    ended_at = ma.fields.String(
        required=True, allow_none=True, metadata={"format": "date-time"}
    )


class DeskWarnings(ma.Schema):
    items = ma.fields.List(ma.fields.Nested(DeskWarning), required=True)


class DeskDraft(TypedWarning):
    """What a person was told, places as the posts count them."""

    report = Id(load_default=None, allow_none=True)


class DeskChanges(Strict):
    """The fields that change; both ends together."""

    direction = Text(120)
    from_place = Text(40)
    to_place = Text(40)
    state = Text(120)
    adhesion = adhesion()
    reason = Text(200)
    from_at = Moment()
    review_at = Moment(allow_none=True)
    told_by = Text(120)
    reference = Text(120, empty=True)
    told_at = Moment(allow_none=True)


class DeskEnd(Strict):
    """The end as the signaller told it."""

    told_by = Text(120, required=True)
    told_at = Moment(required=True)
    reference = Text(120, empty=True, load_default="")
    override = Text(500, empty=True, load_default="")
    set_aside = Text(200, empty=True, load_default="")


class NoBody(Strict):
    """Nothing but `{}`."""


def as_typed(loaded: Mapping[str, Any]) -> dict[str, Any]:
    """Write times as they came: the service reads what a person typed."""
    return {
        name: rfc3339(value) if isinstance(value, datetime) else value
        for name, value in loaded.items()
    }
