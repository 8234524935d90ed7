"""Trip log: how many approaches were made without a report, and not by whom."""

from __future__ import annotations
