"""GeoJSON (RFC 7946) written feature by feature: a file of many begins to come at once."""

from __future__ import annotations

import json
from collections.abc import Iterable, Iterator
from typing import Any


def lines(features: Iterable[dict[str, Any]]) -> Iterator[str]:
    """Write a collection, one feature a line."""
    yield '{"type": "FeatureCollection", "features": ['
    between = "\n"
    for one in features:
        yield between + json.dumps(one, ensure_ascii=False, allow_nan=False)
        between = ",\n"
    yield "\n]}\n"
