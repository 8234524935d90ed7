"""What a person at the desk should look at first."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import Any

#: Worked on already: reviewed, or joined to another report.
DONE = 0
FOUND = {"good": 1, "expected": 2, "reportable": 3}
#: What a person must do something about now, the gravest last: the wheels may be flat; the
#: signaller may not know; no train may be sent after one that is not detected; where a train
#: ran past, the signaller is told whatever the grip was (OPERATIONS.md 6, "who is told").
FLATS, NO_CALL, NOT_SEEN, OVERRUN = 4, 5, 6, 7
#: One word for each rank, for its mark; two that are told apart by a call have two marks.
KINDS = {
    OVERRUN: "overrun",
    NOT_SEEN: "not-seen",
    NO_CALL: "no-call",
    FLATS: "flats",
    FOUND["reportable"]: "reportable",
    FOUND["expected"]: "expected",
    FOUND["good"]: "good",
}
#: What each rank asks of a person before it can be put down as reviewed.
REASONS = {
    OVERRUN: "overrun",
    NOT_SEEN: "train not seen",
    NO_CALL: "reportable, no call noted",
    FLATS: "flats suspected",
    FOUND["reportable"]: "reportable",
}
APART = "kept apart, its tablet is not enrolled here"
BAR = "|"


def happened(words: Iterable[str]) -> str:
    """Return the signs as one text in which each can be searched whole."""
    found = list(words)
    return BAR + BAR.join(found) + BAR if found else ""


def gravity(body: Mapping[str, Any]) -> int:
    """Return how grave a report is by what it says, 1 to 7."""
    found = FOUND.get(body["found"], FOUND["reportable"])
    if "overrun" in (body.get("happened") or []):
        return OVERRUN
    if body.get("train_not_seen"):
        return NOT_SEEN
    if found == FOUND["reportable"] and body.get("told_signaller_at") is None:
        return NO_CALL
    return max(found, FLATS) if body.get("flats_suspected") else found


def urgency(body: Mapping[str, Any], *, apart: bool) -> int:
    """Return the rank of a report that waits, the larger the sooner; never `DONE`.

    One that is kept apart stands just below those of the same kind: anyone could have sent
    it, and it may be true.
    """
    return 2 * gravity(body) - int(apart)


def reason_alone(body: Mapping[str, Any], *, apart: bool) -> str | None:
    """Say why a report has to be opened; None if it can be reviewed with others."""
    return APART if apart else REASONS.get(gravity(body))
