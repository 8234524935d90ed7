"""Write ``static/core/columns.js``, the tablet's copy of the list of a table file's columns.

Run it again when a column is added or read otherwise: ``python tests/golden/make_columns.py``.
``tests/webapp/packs/test_columns.py`` holds the copy to the list.
"""

from __future__ import annotations

import json
from pathlib import Path

from calc.result import WORST
from webapp.lines.columns import ALL_THE_WAY, FILE_COLUMNS, FLAGS, FileColumn

SCRIPT = Path(__file__).parents[2] / "static" / "core" / "columns.js"


def script() -> str:
    """Return what the tablet's look-up has to know, as a module of its language."""
    written = "".join(map(_row, FILE_COLUMNS))
    flags = ", ".join(f"{name}: {bit}" for name, bit in FLAGS.items())
    return f"""/**
 * The columns of a table file, [season][target][state][train] and, unless plain, [knot].
 * Written by `python tests/golden/make_columns.py` from calc/result.py and
 * webapp/lines/columns.py.
 */
export const COLUMNS = [
{written}];

/** Bits of the column `flags`. */
export const FLAGS = {{ {flags} }};

/** Kept where a cover reaches all the way to the limit. */
export const ALL_THE_WAY = {ALL_THE_WAY};
"""


def _row(column: FileColumn) -> str:
    answered = column.answered and column.between != WORST
    rules = {"name": column.name, "between": column.between}
    rules |= {"answered": answered, "required": column.required}
    pairs = ", ".join(f"{name}: {json.dumps(value)}" for name, value in rules.items())
    unit = f" [{column.unit}]" if column.unit else ""
    what = column.what.replace("; bit", ";\n  // bit")
    return f"  // {what}{unit}\n  {{ {pairs} }},\n"


if __name__ == "__main__":
    SCRIPT.write_text(script(), encoding="utf-8")
