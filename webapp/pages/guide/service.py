"""What each page of the tablet app answers to an eye that has two seconds."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

PICTURES = Path(__file__).parent / "pictures"


@dataclass(frozen=True)
class Shot:
    """One picture: its file without the ending, the question, and where the answer stands."""

    key: str
    question: str
    answer: str


SHOTS = (
    Shot(
        "asking",
        "What does only the driver know?",
        "Isolated brakes, WSP, sand, the rail: nothing of it is filled in beforehand, and "
        "each answer says what it changes.",
    ),
    Shot(
        "brief",
        "Which stops are the worst today?",
        "The first screen: stops without advice and what changed, if any; then the stops that "
        "need more than this rail asks anyway, each with its mark and why. What the others "
        "share is said once; all stops are one touch away.",
    ),
    Shot(
        "row",
        "How is one stop to be taken?",
        "The opened row: speeds at real things, the picture of the approach, and what is "
        "covered by calculation, in words that promise no more than that.",
    ),
    Shot(
        "card",
        "Where do I begin, and with which step?",
        "The largest line. Under it the mark for a rail that is worse; then speeds not to be "
        "above, and why.",
    ),
    Shot(
        "dry",
        "Is anything different here?",
        "No: the bar is dotted, and the tool adds nothing to the usual approach.",
    ),
    Shot(
        "buffers",
        "How fast at each board before the buffers?",
        "A ladder of speeds to the last board. They are ceilings, not speeds to hold.",
    ),
    Shot(
        "never",
        "What if no speed is enough?",
        "A double frame and no number: special working, ask the signaller.",
    ),
    Shot(
        "unknown",
        "What if nobody knows where the train is?",
        "An empty square, a broken frame and no card. At a stand the driver says which stop "
        "is next; nothing is taken by itself.",
    ),
    Shot(
        "report",
        "Whom do I tell first?",
        "The signaller, by voice. The report is two touches and Save; the rest can wait.",
    ),
    Shot(
        "saved",
        "Who knows of it now?",
        "Nobody but this tablet. The page says so, and gives the words to say.",
    ),
    Shot(
        "outbox",
        "Has the depot got my report?",
        "A full square: it has. An empty one: it is on this tablet and will be sent.",
    ),
    Shot(
        "slide",
        "It slides: what now?",
        "Fixed words, read at a stand and remembered on the move; the company's own where it "
        "has signed them.",
    ),
)
