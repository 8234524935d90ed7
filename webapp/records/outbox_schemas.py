"""What a batch and a report must look like; the contract is in PROTOCOL.md."""

from __future__ import annotations

import marshmallow as ma

from webapp.plain.agreed import MOST_ITEMS
from webapp.plain.fields import (
    Id,
    Integer,
    Moment,
    Strict,
    Text,
    Truth,
    choice,
)
from webapp.records.reports.body import ReportBody, in_range


class ReportItem(Strict):
    kind = choice("report", required=True)
    id = Id(required=True)
    seq = Integer(required=True, validate=in_range(1, 2**31 - 1))
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
    server_no = Integer(required=True, allow_none=True, validate=in_range(1, 2**53))


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
