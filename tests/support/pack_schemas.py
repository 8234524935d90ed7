"""The JSON Schemas of a pack's files, the table's with the columns that it holds now."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

from webapp.lines.columns import columns_schema

SCHEMAS = Path(__file__).parents[2] / "webapp" / "packs" / "schemas"


def schema(kind: str) -> dict[str, Any]:
    """Return the schema of a kind of file: manifest, base, table or pictures."""
    found: dict[str, Any] = json.loads((SCHEMAS / f"{kind}.json").read_text(encoding="utf-8"))
    if kind == "table":
        found["properties"]["columns"] = columns_schema()
    return found
