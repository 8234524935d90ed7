"""What was observed of the weather; None is "not observed", never nought."""

from __future__ import annotations

import math
from dataclasses import dataclass

from .constants import WATER_RANGE
from .humidity import humidity_from_dew_point

#: Words for the weather as a report uses them.
WORDS = ("dry", "drizzle", "rain", "mist", "frost", "snow")
#: Range of each figure: name, unit, lowest, highest that is believed.
RANGES = {
    "air": ("air temperature", "degC", *WATER_RANGE),
    "humidity": ("relative humidity, a share of 1", "", 0.01, 1.0),
    "dew_point": ("dew point", "degC", *WATER_RANGE),
    "rain": ("rain in the hour", "mm", 0.0, 300.0),
    "wind": ("wind speed", "m/s", 0.0, 60.0),
    "cloud": ("cloud, a share of the sky", "", 0.0, 1.0),
}


@dataclass(frozen=True)
class Hour:
    """One hour as observed or typed.

    Attributes
    ----------
    air, dew_point : float or None
        Air temperature and dew point. [degC]
    humidity : float or None
        Relative humidity; needed only where the dew point is not known. [-]
    rain : float or None
        Precipitation of the hour, as water. [mm]
    wind : float or None
        [m/s]
    cloud : float or None
        Share of the sky that is covered. [-]
    word : str or None
        One of `WORDS`.

    Raises
    ------
    ValueError
        If a figure cannot be, or humidity and dew point contradict each other.
    """

    air: float | None = None
    humidity: float | None = None
    dew_point: float | None = None
    rain: float | None = None
    wind: float | None = None
    cloud: float | None = None
    word: str | None = None

    def __post_init__(self) -> None:
        """Refuse what cannot be."""
        for name, (words, unit, low, high) in RANGES.items():
            figure = getattr(self, name)
            if figure is not None and not (math.isfinite(figure) and low <= figure <= high):
                span = f"{low:g} to {high:g} {unit}".rstrip()
                raise ValueError(f"{words} must lie within {span}, got {figure}")
        if self.word is not None and self.word not in WORDS:
            raise ValueError(f"weather '{self.word}' is not one of {', '.join(WORDS)}")
        if self.dew_point is not None and self.air is not None and self.dew_point > self.air:
            raise ValueError(
                f"dew point {self.dew_point} degC lies above the air, {self.air} degC"
            )

    @property
    def moisture(self) -> float | None:
        """Relative humidity, from the dew point where that is all there is. [-]."""
        if self.humidity is not None or self.dew_point is None or self.air is None:
            return self.humidity
        return float(humidity_from_dew_point(self.air, self.dew_point))
