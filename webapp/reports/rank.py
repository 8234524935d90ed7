"""What a person at the desk should look at first."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import Any

#: Worked on already: reviewed, or joined to another report.
DONE = 0
FOUND = {"good": 1, "expected": 2, "reportable": 3}
#: Told by voice whatever the grip was (OPERATIONS.md 6, "who is told").
ALWAYS_FIRST = "overrun"
BAR = "|"


def happened(words: Iterable[str]) -> str:
    """Return the signs as one text in which each can be searched whole."""
    found = list(words)
    return BAR + BAR.join(found) + BAR if found else ""


def urgency(body: Mapping[str, Any], *, apart: bool) -> int:
    """Return the rank of a report that waits, the larger the sooner; never `DONE`.

    One that is kept apart stands just below those of the same kind: anyone could have sent
    it, and it may be true.
    """
    rank = FOUND.get(body["found"], FOUND["reportable"])
    if ALWAYS_FIRST in (body.get("happened") or []):
        rank = FOUND["reportable"]
    return 2 * rank - int(apart)
