"""Bands of adhesion for the usual rail states, each with its source or as an assumption."""

from __future__ import annotations

from dataclasses import dataclass

from .field import RailField, field_from_band


@dataclass(frozen=True)
class Band:
    """One state's figures; a company replaces them by what it has measured.

    Attributes
    ----------
    condition : str
        The state as the weather's words call it, or "very low".
    low, high : float
        90 % of places are taken to lie between. [-]
    patch : float
        [m]
    basis : str
        Where the band is from; patch lengths are assumptions everywhere.
    """

    condition: str
    low: float
    high: float
    patch: float
    basis: str

    def field(self) -> RailField:
        """Return the field of this band."""
        return field_from_band(self.low, self.high, self.patch)


#: Best first. Patch lengths: no figure is published; known slicks ran 1.7 to 5 km, so the
#: share of the day (half) carries what holds over a whole approach.
BANDS = (
    Band("dry", 0.18, 0.25, 200.0, "Metzkow's tests, German railcar handbook p. 43"),
    Band("wet", 0.10, 0.20, 200.0, "adhesion-manual text, rail-traction.com: really wet"),
    Band(
        "damp",
        0.05,
        0.15,
        100.0,
        "assumption: from ultra-low at 0.05 (Buckley-Johnstone 2019) to the top of dew, 0.15 "
        "(Metzkow)",
    ),
    Band("frost", 0.04, 0.12, 100.0, "assumption: 0.05 to 0.15 from memory, a little lower"),
    Band(
        "leaf",
        0.02,
        0.10,
        150.0,
        "assumption: around 0.05, below 0.1 (Ishizaka, Lewis 2017); 0.02 several times a day "
        "in autumn (RSSB T1107)",
    ),
    Band(
        "very low",
        0.01,
        0.04,
        150.0,
        "assumption: 0.02 of the T1107 trials; down to 0.01 for moist crushed leaves",
    ),
)
