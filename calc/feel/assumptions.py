"""What the feel table assumes without a source: what, value, basis, for the app's list."""

from __future__ import annotations

from .brake_feel import BASIS, Tolerances
from .changeover import Handover

#: Each tolerance in words, and its unit.
_WORDS = {
    "scale": ("speedometer's scale", ""),
    "reading": ("each reading of the speedometer", " m/s"),
    "clock": ("time between the readings", " s"),
    "gradient": ("mean gradient", ""),
    "mass": ("mass of the train", ""),
    "brake": ("a brake in order, of its quoted rate", ""),
    "resistance": ("running resistance, with wind", ""),
    "dead_time": ("dead time", " s"),
    "ramp": ("build-up", ""),
}


def assumptions() -> tuple[tuple[str, str, str], ...]:
    """Return (what, value, basis) of every assumption, values as they are used."""
    known, handover = Tolerances(), Handover()
    tolerances = tuple(
        (f"brake test, tolerance: {words}", f"± {getattr(known, name):g}{unit}", BASIS[name])
        for name, (words, unit) in _WORDS.items()
    )
    return (
        *tolerances,
        ("brake test: tolerances", "independent of each other", "assumption: add as squares"),
        (
            "brake test: resistance and load",
            "the constant part follows the load",
            "assumption: rolling grows with the load, air does not",
        ),
        (
            "electric brake goes in",
            f"{handover.electric_fall:g} s",
            "assumption: to be had from the train's maker",
        ),
        (
            "friction after electric begins after",
            f"{handover.friction_dead_time:g} s",
            "assumption: to be had from the train's maker",
        ),
    )
