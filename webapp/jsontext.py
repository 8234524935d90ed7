"""JSON as the standard has it: no NaN, no Infinity, no endless nesting, times with offset."""

from __future__ import annotations

import json
from datetime import UTC, datetime
from typing import Any

from flask.json.provider import DefaultJSONProvider


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


def _refuse_constant(name: str) -> Any:
    raise ValueError(f"{name} is not a JSON number")


class StrictJson(DefaultJSONProvider):
    """Flask's JSON, refusing what JSON has no word for."""

    sort_keys = False

    @staticmethod
    def default(o: Any) -> Any:
        return rfc3339(o) if isinstance(o, datetime) else DefaultJSONProvider.default(o)

    def dumps(self, obj: Any, **kwargs: Any) -> str:
        kwargs.setdefault("allow_nan", False)
        return super().dumps(obj, **kwargs)

    def loads(self, s: str | bytes, **kwargs: Any) -> Any:
        return loads(s)
