"""What the desk itself assumes: its numbers that no source outside gives.

`tests/webapp/trust/test_desk_app.py` holds each row to the constant it speaks of.
"""

from __future__ import annotations

OWN = "assumption: own number, to be judged by the desk"
#: What, value, basis; by the constant, written module:name.
NUMBERS: dict[str, tuple[str, str, str]] = {
    "webapp.reports.near:NEAR_M": ("another report is near by within", "1 km", OWN),
    "webapp.reports.near:NEAR": ("and within", "3 h", OWN),
    "webapp.warnings.proposal:SPREAD_M": (
        "a warning proposed from a report reaches to both sides of its place",
        "400 m",
        OWN,
    ),
    "webapp.warnings.proposal:BEFORE_STOP_M": (
        "or, where only the stop is known, from so far before the mark",
        "800 m",
        OWN,
    ),
    "webapp.warnings.steps:NEAR_M": (
        "a reportable report counts for a warning's clearing within",
        "400 m",
        OWN,
    ),
    "webapp.warnings.clearing:Rule.quiet": (
        "since the latest reportable report, without an inspection",
        "30 min",
        "assumption: common practice, no source; a company's setting",
    ),
    "webapp.control.service:FLATS_SHOWN": ("suspected flats stay on the list", "60 days", OWN),
    "webapp.handover.service:SHIFT": ("a hand-over looks back", "12 h", OWN),
}


def assumptions() -> tuple[tuple[str, str, str], ...]:
    """Return (what, value, basis) of every number, for the page of trust."""
    return tuple(NUMBERS.values())
