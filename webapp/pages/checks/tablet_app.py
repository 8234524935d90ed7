"""What the tablet app itself assumes: its numbers that no source outside gives.

The numbers are used in JavaScript; `tests/webapp/checks/test_tablet_app.py` holds each row to
the constant it speaks of, and sees that none is left out.
"""

from __future__ import annotations

from dataclasses import dataclass

OWN = "assumption: own number, tried on simulated runs of the demo lines"
FOLLOW = "core/follow-numbers.js"


@dataclass(frozen=True)
class Number:
    """One number of the app: where it stands, what it is, how it is written for a reader."""

    constant: str
    number: float
    what: str
    value: str
    basis: str = OWN
    file: str = FOLLOW


NUMBERS = (
    Number("FIX_AGE_MS", 10_000, "a position older than this is none", "10 s"),
    Number("ACCURACY_M", 200, "a position vaguer than this is none", "200 m"),
    Number(
        "BOUND_PER_ACCURACY",
        2,
        "bound of a fix, in accuracies given by the receiver",
        "2",
        "assumption: the W3C Geolocation text asks for a 95 % radius, receivers may give 68 %",
    ),
    Number("LEAST_BOUND_M", 25, "least bound of a fix along the line", "25 m"),
    Number(
        "BOUND_PER_OFF", 1.5, "bound along the line for an error seen across it", "1.5 times"
    ),
    Number("BESIDE_M", 50, "beside the line, besides the fix's own bound", "50 m"),
    Number("STRANGE_MS", 20_000, "fixes that contradict win after agreeing for", "20 s"),
    Number("REACH_MS", 10_000, "all places seen for so long count for the freeze", "10 s"),
    Number("STRANGE_FIXES", 3, "and at least so many of them", "3"),
    Number("SHAKING_MS", 5_000, "nothing is sure once they contradict for", "5 s"),
    Number("SHAKEN_MS", 120_000, "nor afterwards for", "2 min"),
    Number("MOST_PLACES", 6, "places a fix may belong to that are carried on", "6"),
    Number("SPEED_ERROR_MPS", 1, "error of a receiver's speed", "1 m/s"),
    Number("GAIN_MPS2", 1, "fastest gain of speed", "1 m/s2", "assumption: a unit in service"),
    Number("LOSE_MPS2", 1.2, "fastest loss of speed", "1.2 m/s2", "assumption: as above"),
    Number("TOP_SHARE", 1.05, "limits are exceeded by at most", "5 %"),
    Number("SLOW_FIXES", 2, "slow fixes in a row that are a stand", "2"),
    Number("FAST_FIXES", 2, "fast fixes in a row that are a start", "2"),
    Number("STILL_MS", 6_000, "slow for this long is standing", "6 s"),
    Number("STILL_MUTE_MS", 13_000, "and where the receiver gives no speed", "13 s"),
    Number("STILL_MPS", 0.5, "slower than this is slow", "0.5 m/s"),
    Number("CALLED_MS", 20_000, "a call in a platform ends an older doubt after", "20 s"),
    Number("SELDOM_MS", 1_500, "longer gaps between fixes make a stand take longer", "1.5 s"),
    Number("LINGER_MS", 10_000, "not surely running this long may have been a stand", "10 s"),
    Number("PASSED_M", 50, "surely this far past a platform is run through", "50 m"),
    Number("BEYOND_M", 40, "perhaps this far past it, it is not sure to be next", "40 m"),
    Number("OVERRUN_M", 250, "a stand no further past a platform is an overrun", "250 m"),
    Number("OVERRUN_MPS", 16, "faster past it, it was run through", "16 m/s"),
    Number("JUMP_M", 450, "first places after a blind time may be wrong by", "450 m"),
    Number("TURNED_M", 100, "surely this far back is another direction", "100 m"),
    Number("BACKWARD_M", 120, "perhaps this far back since a stand is not sure", "120 m"),
    Number("BACKWARD_MS", 7_000, "until fixes have contradicted that for", "7 s"),
    Number(
        "FREEZE_S",
        30,
        "the card freezes this long before the earlier mark",
        "30 s",
        "assumption: a decision of ours, so that nothing moves while the driver brakes",
    ),
    Number(
        "LAG_S",
        2,
        "and so much sooner, since receivers smooth what they say",
        "2 s",
        "assumption: own number",
    ),
    Number("BLIND_WORD_MS", 10_000, "blind and frozen, 'estimated' is said after", "10 s"),
    Number("BLIND_DOUBT_MS", 30_000, "blind, it may have called and left after", "30 s"),
    Number(
        "BLIND_LOST_MS",
        90_000,
        "blind, there is no card after",
        "90 s",
        "assumption: 91 s from 60 mph at 3 %g, worked out",
    ),
    Number(
        "HOLD_MOVING_MS", 1_200_000, "vanished while moving counts as moving for", "20 min"
    ),
    Number(
        "PACK_DAYS",
        60,
        "a pack gives no advice when the depot has not confirmed it for",
        "60 days",
        "assumption: own number; a company may set pack_days in the pack",
        "core/lapse.js",
    ),
    Number(
        "BEFORE",
        900_000,
        "weather counts for a trip from so long before it begins",
        "15 min",
        "assumption: own number",
        "core/weather.js",
    ),
    Number(
        "AFTER",
        3_600_000,
        "to so long after it ends",
        "60 min",
        "assumption: own number, since trains run late",
        "core/weather.js",
    ),
    Number(
        "OVER",
        3_600_000,
        "a trip that ended longer ago is meant for the next day",
        "60 min",
        "assumption: own number",
        "core/weather.js",
    ),
    Number(
        "LATE_MIN",
        15,
        "a trip is offered among those that leave next until so long after its time",
        "15 min",
        "assumption: own number",
        "core/due.js",
    ),
    Number(
        "DARK_MS",
        600_000,
        "a tablet that is dark for longer lets its receiver go",
        "10 min",
        "assumption: own number",
        "data/position.js",
    ),
    Number(
        "RUN_OVER_MS",
        21_600_000,
        "a trip prepared longer ago is another day's run: preparation is asked again after",
        "6 h",
        "assumption: own number",
        "core/prepare.js",
    ),
    Number(
        "LATITUDE",
        52,
        "latitude by which the light of the screen follows the sun",
        "52 degrees",
        "assumption: own number; the light can be chosen by hand",
        "theme.js",
    ),
    Number(
        "RESTRICTION_NEAR_M",
        25,
        "a temporary restriction counts beyond each of its ends for",
        "25 m",
        "assumption: own number; a notice names its places to a chain, 20.1 m",
        "core/agreed.js",
    ),
    Number(
        "LONGEST_MS",
        2_000,
        "news waits for a finger on the glass for at most",
        "2 s",
        "assumption: own number",
        "elements/touch.js",
    ),
    Number(
        "CLICK_MS",
        300,
        "and after it went up, for the tap, at most",
        "300 ms",
        "assumption: own number",
        "elements/touch.js",
    ),
)


def assumptions() -> tuple[tuple[str, str, str], ...]:
    """Return (what, value, basis) of every number, for the page of checks."""
    return tuple((one.what, one.value, one.basis) for one in NUMBERS)
