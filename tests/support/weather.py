"""A line whose chain has a state for every word of the weather, and files of hours."""

from __future__ import annotations

import json
from collections.abc import Iterable
from datetime import UTC, datetime, timedelta
from typing import Any

from tests.support.small_pack import FakePack, small_pack

HOUR = timedelta(hours=1)
STATES = (
    *(("dry", "Dry", True), ("wet", "Wet", True), ("damp", "Damp", True)),
    *(("frost", "Frost", True), ("leaf", "Leaf film", True), ("very-low", "Very low", False)),
)
LEAFY_PLACE = {
    **{"key": "fern-wood", "name": "Fern Wood", "from_m": 3000, "to_m": 3600},
    **{"directions": ["down"], "state": "leaf", "reason": "trees", "source": "invented"},
    "season": {"from": "10-01", "to": "12-13"},
}
HEADING = "time,air_c,dew_point_c,rain_mm,wind_mps,cloud_oktas"


def states() -> list[dict[str, Any]]:
    """The chain of the demo lines, as a base has it."""
    return [
        {"key": key, "name": name, "plan": 0.15 - 0.02 * n, "slick": 0.03, "basis": "invented"}
        | {"pickable": pickable}
        for n, (key, name, pickable) in enumerate(STATES)
    ]


def weather_pack(listed: Iterable[dict[str, Any]] = (), leafy: bool = False) -> FakePack:
    """The small pack with a whole chain, and whether leaves fall on its line."""
    changed = {"states": states(), "listed": list(listed)}
    return small_pack(changed={**changed, "proposals": {"leafy": leafy}})


def full_hour(now: datetime | None = None) -> datetime:
    """The last full hour."""
    moment = now or datetime.now(UTC)
    return moment.replace(minute=0, second=0, microsecond=0)


def rows(cells: str = "8,3,0,3,4", back: int = 30, ahead: int = 40) -> list[str]:
    """Rows of one weather, from so many hours back to so many ahead."""
    first = full_hour()
    return [f"{first + HOUR * n:%Y-%m-%dT%H:%MZ},{cells}" for n in range(-back, ahead)]


def csv_file(lines: Iterable[str], heading: str = HEADING) -> bytes:
    """A file of such rows."""
    return "\n".join([heading, *lines, ""]).encode()


def hourly_body(back: int = 30, ahead: int = 40, **hourly: Any) -> dict[str, Any]:
    """The answer of a forecast interface, a fine day; ``hourly`` replaces its arrays."""
    first, count = full_hour(), back + ahead
    times = [f"{first + HOUR * n:%Y-%m-%dT%H:%M}" for n in range(-back, ahead)]
    arrays = {
        "time": times,
        **{"temperature_2m": [8.0] * count, "dew_point_2m": [3.0] * count},
        **{"precipitation": [0.0] * count, "cloud_cover": [50] * count},
        "wind_speed_10m": [10.8] * count,
    }
    units = {
        "time": "iso8601",
        **{"temperature_2m": "°C", "dew_point_2m": "°C", "precipitation": "mm"},
        **{"cloud_cover": "%", "wind_speed_10m": "km/h"},
    }
    return {
        **{"latitude": 44.03, "longitude": -20.0, "utc_offset_seconds": 0},
        **{"hourly_units": units, "hourly": {**arrays, **hourly}},
    }


def json_file(body: Any) -> bytes:
    return json.dumps(body).encode()
