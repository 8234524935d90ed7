"""Build seals as a tablet would, with a hash made by another road than the server's."""

from __future__ import annotations

import hashlib
import json
import uuid
from typing import Any

WARNING = "0192f0c1-0000-4000-8000-0000000000aa"
RESTRICTION = "0192f0c1-0000-4000-8000-0000000000bb"


def hashed(body: dict[str, Any]) -> dict[str, Any]:
    """Put the hash in: for keys and values in ASCII, sorted JSON is what RFC 8785 asks."""
    plain = {name: value for name, value in body.items() if name != "sha256"}
    text = json.dumps(plain, sort_keys=True, separators=(",", ":"), ensure_ascii=False)
    return {**plain, "sha256": hashlib.sha256(text.encode()).hexdigest()}


def seal(seq: int = 1, **changes: Any) -> dict[str, Any]:
    """One seal; arguments named after a field of the item change that, others the body."""
    whole = {
        "kind": "seal",
        "id": str(uuid.uuid4()),
        "seq": seq,
        "observed_at": "2026-11-25T06:45:00+00:00",
    }
    whole.update({name: changes.pop(name) for name in list(changes) if name in whole})
    body = {
        "sealed_at": "2026-11-25T06:45:00+00:00",
        "app_build": "0123456789abcdef",
        "route": "larch-valley",
        "pack": "ab" * 32,
        "warnings": [{"id": WARNING, "rev": 2}],
        "restrictions": [{"id": RESTRICTION, "rev": 1}],
        "card": ["Harrowmere, platform 2", "31\u00bc post"],
        "preparation": {"sand": "full", "trailing bogie": True, "cars": 4, "hoppers": None},
        "clock_offset_s": -3,
        "unsent": [],
        **changes,
    }
    return {**whole, "body": hashed(body)}
