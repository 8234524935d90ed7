"""What the desk itself assumes: its numbers that no source outside gives.

`tests/webapp/checks/test_desk_app.py` holds each row to the constant it speaks of.
"""

from __future__ import annotations

OWN = "assumption: own number, to be judged by the desk"
SETTING = "assumption: own number; a company's setting"
PRACTICE = "assumption: common practice, no source; a company's setting"
#: What, value, basis; by the constant, written module:name.
NUMBERS: dict[str, tuple[str, str, str]] = {
    "webapp.records.reports.near:NEAR_M": ("another report is near by within", "1 km", OWN),
    "webapp.records.reports.near:NEAR": ("and within", "3 h", OWN),
    "webapp.records.warnings.proposal:BEHIND_M": (
        "a warning proposed from a report reaches so far back from its place",
        "600 m",
        OWN,
    ),
    "webapp.records.warnings.proposal:AHEAD_M": ("and so far ahead of it", "200 m", OWN),
    "webapp.records.warnings.proposal:BEFORE_STOP_M": (
        "at a stop: from so far before the mark, to the mark",
        "800 m",
        OWN,
    ),
    "webapp.records.warnings.proposal:PAST_M": (
        "a train counts as at its stop when it stands past the mark by at most",
        "400 m",
        OWN,
    ),
    "webapp.records.warnings.steps:NEAR_M": (
        "a reportable report counts for a warning's clearing within",
        "400 m",
        OWN,
    ),
    "webapp.records.warnings.clearing:Rule.quiet": (
        "since the latest reportable report, without an inspection",
        "30 min",
        PRACTICE,
    ),
    "webapp.records.control:FLATS_SHOWN": ("suspected flats stay on the list", "60 days", OWN),
    "webapp.records.handover:SHIFT": ("a hand-over looks back", "12 h", OWN),
    "webapp.records.reports.sequence:READ_BACK": (
        "gaps in the numbers of a tablet are looked for within",
        "35 days",
        OWN,
    ),
    "webapp.plain.config:PROPOSE.PROPOSE_REPORTS.3": (
        "a listed place is proposed by at least",
        "3 reports",
        SETTING,
    ),
    "webapp.plain.config:PROPOSE.PROPOSE_METRES.3": (
        "each as near to the last as",
        "800 m",
        SETTING,
    ),
    "webapp.plain.config:PROPOSE.PROPOSE_WEEKS.3": ("within", "6 weeks", SETTING),
    "webapp.records.places.proposals:NEAR_M": (
        "and reaches beyond the reports to both sides",
        "200 m",
        OWN,
    ),
    "webapp.records.places.proposals:BEFORE_MARK_M": (
        "or, where only the stop is known, lies so far before the mark",
        "400 m",
        OWN,
    ),
    "webapp.plain.fields:CLOCKS_DIFFER": (
        "a time told to the desk may be ahead of its clock by",
        "5 min",
        OWN,
    ),
    "webapp.records.weather.held:TOO_OLD": (
        "weather proposes nothing once it was given longer ago than",
        "12 h",
        OWN,
    ),
    "webapp.records.weather.held:FAR_KM": (
        "a weather station is called far from the line beyond",
        "25 km",
        OWN,
    ),
    "webapp.records.weather.held:TOO_FAR_KM": ("and refused beyond", "150 km", OWN),
    "webapp.records.weather.held:LONGEST_CHANGE": (
        "hours made worse by hand last at most",
        "36 h",
        OWN,
    ),
    "webapp.records.weather.held:KEPT": ("weather is kept for", "30 days", OWN),
    "webapp.plain.config:KEEP_DAYS.KEEP_NAMES_DAYS.1": (
        "the name in a report goes after",
        "120 days",
        PRACTICE,
    ),
    "webapp.plain.config:KEEP_DAYS.KEEP_WORDS_DAYS.1": (
        "free words and the tie to a tablet go after",
        "400 days",
        PRACTICE,
    ),
}


def assumptions() -> tuple[tuple[str, str, str], ...]:
    """Return (what, value, basis) of every number, for the page of checks."""
    return tuple(NUMBERS.values())
