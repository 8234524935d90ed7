"""What the risk estimate assumes: what, value, basis, for the app's list."""

from __future__ import annotations

from .bands import BANDS


def assumptions() -> tuple[tuple[str, str, str], ...]:
    """Return (what, value, basis) of every assumption, values as they are used."""
    bands = tuple(
        (
            f"random rail, {band.condition}: 90 % of places",
            f"{band.low:g} to {band.high:g}",
            band.basis,
        )
        for band in BANDS
    )
    patches = tuple(
        (
            f"random rail, {band.condition}: length of a patch",
            f"{band.patch:g} m",
            "assumption: no figure is published",
        )
        for band in BANDS
    )
    return (
        *bands,
        *patches,
        (
            "random rail: share of the variance common to a whole approach",
            f"{BANDS[0].field().day_share:g}",
            "assumption: known slicks ran 1.7 to 5 km",
        ),
        ("random rail: shape", "logarithm of adhesion is normal", "assumption"),
        ("what a published band of adhesion holds", "90 % of places", "assumption"),
    )
