"""What counts may look like. A field that is not named here is refused, not dropped."""

from __future__ import annotations

import marshmallow as ma

from webapp.fields import Id, Integer, Strict, Text, choice

KEY = 120
MOST_CELLS = 500
MOST_IN_A_CELL = 10_000


def _range(low: int, high: int) -> ma.validate.Range:
    return ma.validate.Range(low, high, error="Send a whole number from {min} to {max}.")


class Cell(Strict):
    """One place, one hour of the railway's day, one rail state, one type of train."""

    route = Text(KEY, required=True)
    target = Text(KEY, required=True)
    hour = Integer(required=True, validate=_range(0, 23))
    rail_state = Text(KEY, required=True)
    train_type = Text(KEY, required=True)
    n = Integer(required=True, validate=_range(1, MOST_IN_A_CELL))


class CountsBody(Strict):
    month = ma.fields.String(
        required=True,
        validate=ma.validate.Regexp(
            r"^[12]\d{3}-(0[1-9]|1[0-2])$", error="Send a month, such as 2026-11."
        ),
    )
    cells = ma.fields.List(
        ma.fields.Nested(Cell),
        required=True,
        validate=ma.validate.Length(1, MOST_CELLS, error="Send {min} to {max} cells."),
    )


class CountsItem(Strict):
    """No number, no time of its own, no position, no trip, no train."""

    kind = choice("counts", required=True)
    id = Id(required=True)
    body = ma.fields.Nested(CountsBody, required=True)
