"""The words that a report may use, for whoever takes it in and whoever reads it."""

from __future__ import annotations

WORDS_FOUND = ("good", "expected", "reportable")
WORDS_HAPPENED = (
    "slide",
    "slip at start",
    "overrun",
    "stopped short",
    "leaves",
    "dull railhead",
    "mist",
    "first rain",
)
WORDS_STEP = ("1", "2", "3", "emergency")
WORDS_WEATHER = ("dry", "drizzle", "rain", "mist", "frost", "snow")
