"""Write ``static/core/agreed.js``, the tablet's copy of what both sides must agree on.

Run it again when `webapp/plain/agreed.py` changes: ``python tests/golden/make_agreed.py``.
"""

from __future__ import annotations

import json
from pathlib import Path

from webapp.plain import agreed

SCRIPT = Path(__file__).parents[2] / "static" / "core" / "agreed.js"


def script() -> str:
    """Return every constant of the module as one of the tablet's language."""
    rows = [
        f"export const {name} = {json.dumps(value)};\n"
        for name, value in vars(agreed).items()
        if name.isupper()
    ]
    return f"""/**
 * What tablet and depot must agree on; what each means stands in webapp/plain/agreed.py.
 * Written by `python tests/golden/make_agreed.py`.
 */
{"".join(rows)}"""


if __name__ == "__main__":
    SCRIPT.write_text(script(), encoding="utf-8")
