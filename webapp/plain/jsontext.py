"""JSON as the standard has it: no NaN, no Infinity, no endless nesting, times with offset."""

from __future__ import annotations

import json
from datetime import UTC, datetime
from typing import Any


def rfc3339(moment: datetime) -> str:
    """Write an aware time as RFC 3339 in UTC, in one form whatever its fraction."""
    return moment.astimezone(UTC).isoformat(timespec="microseconds").replace("+00:00", "Z")


def loads(text: str | bytes) -> Any:
    """Read JSON text; every fault is a ValueError, also what Python would tolerate."""
    try:
        if isinstance(text, bytes):
            text = text.decode("utf-8")
        return json.loads(text, parse_constant=_refuse_constant)
    except RecursionError as error:
        raise ValueError("nested too deeply") from error


def any_bytes(value: Any) -> bytes:
    """Write any JSON in one way, even what RFC 8785 has no bytes for."""
    try:
        return json.dumps(value, sort_keys=True).encode()
    except RecursionError:
        return b"nested too deeply"


def _refuse_constant(name: str) -> Any:
    raise ValueError(f"{name} is not a JSON number")
