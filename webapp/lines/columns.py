"""The columns of a pack's table file: what each is, how it is kept, how it is read.

Those that the calculation makes are described in `calc.result`; here stand the few that
need landmarks, dates or the rail states' own data. Writing (`quantise`), both look-ups
(`lookup`, and ``static/core/table.js`` by way of ``static/core/columns.js``) and the schema
are driven by this list, and by nothing else. After a change of it write the tablet's copy:
``python tests/golden/make_columns.py``.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Any

from calc.result import COLUMNS, PLAIN, Kept

Json = dict[str, Any]

#: Kept where the calculation says "all the way": of a cover, to the limit.
ALL_THE_WAY = -1
#: Levels of a column, outermost first, and one more where it has a value for each knot.
LEVELS = ("season", "target", "state", "train")


@dataclass(frozen=True)
class FileColumn:
    """One column of the table file.

    Attributes
    ----------
    name, what, unit : str
    item : dict
        JSON Schema of one value.
    between : str
        How a look-up reads it between two knots; `calc.result.PLAIN`: it has none.
    answered, required : bool
        Whether a look-up hands it on; whether packs of every age have it.
    """

    name: str
    what: str
    item: Json
    between: str = PLAIN
    answered: bool = True
    required: bool = True
    unit: str = ""


def _item(kept: Kept) -> Json:
    """Return the schema of one value of a column of the calculation."""
    if kept.codes:
        return {"enum": list(kept.codes)}
    number: Json = {"type": "integer", "minimum": 0}
    if kept.grid > 1:
        number["multipleOf"] = kept.grid
    if kept.between == PLAIN:
        return number
    may_be = [{"type": "null"}, number]
    return {"anyOf": [*may_be, {"const": ALL_THE_WAY}] if kept.endless else may_be}


#: Bits of ``flags`` by the name of the column that each keeps.
FLAGS = {one.name: one.bit for one in COLUMNS if one.bit}

FILE_COLUMNS: tuple[FileColumn, ...] = (
    *(
        FileColumn(
            one.name,
            one.what,
            _item(one.kept),
            one.kept.between,
            one.kept.answered,
            one.kept.required,
            "posted units" if one.unit == "m/s" else one.unit,
        )
        for one in COLUMNS
        if one.kept is not None
    ),
    FileColumn(
        "flags",
        "; ".join(f"bit {one.bit}: {one.what}" for one in COLUMNS if one.bit),
        {"type": "integer", "minimum": 0, "maximum": sum(FLAGS.values())},
    ),
    FileColumn(
        "speeds",
        "up to 3 ceilings for the card, [landmark index, posted units], in order of travel",
        {
            "type": "array",
            "items": {
                "type": "array",
                "prefixItems": [
                    {"type": "integer", "minimum": 0},
                    {"type": "integer", "minimum": 5, "multipleOf": 5},
                ],
                "minItems": 2,
                "maxItems": 2,
            },
            "maxItems": 3,
        },
    ),
    FileColumn(
        "slick",
        "adhesion of the slick that the cover is for",
        {"type": "number", "exclusiveMinimum": 0, "maximum": 0.4},
    ),
    FileColumn(
        "approach",
        "how fast a train comes here on this rail, posted units, up; no slower on a worse one",
        {"type": "integer", "minimum": 0},
        answered=False,
        required=False,
    ),
)


def check_columns(names: Iterable[str]) -> None:
    """Refuse a set of columns that is not the whole of what a table file holds.

    Raises
    ------
    ValueError
        Naming the column that was forgotten, or that nobody described.
    """
    for name in sorted({one.name for one in FILE_COLUMNS} ^ set(names)):
        raise ValueError(f"table file: column {name!r} is described or written, but not both")


def columns_schema() -> Json:
    """Return the JSON Schema of a table file's ``columns``."""
    return {
        "type": "object",
        "required": [one.name for one in FILE_COLUMNS if one.required],
        "properties": {one.name: _nested(one) for one in FILE_COLUMNS},
    }


def _nested(column: FileColumn) -> Json:
    out = column.item
    for _ in range(len(LEVELS) + (column.between != PLAIN)):
        out = {"type": "array", "items": out}
    return out
