"""One cell of a recorder's file: text in, a figure out, or what to write instead."""

from __future__ import annotations

import math
import re

CLOCK = re.compile(r"(\d{1,2}):([0-5]\d):([0-5]\d(?:\.\d+)?)")
STEPS = {"off": 0, "0": 0, "emergency": 99, "e": 99}
YES, NO = {"1", "yes", "true", "on"}, {"0", "no", "false", "off"}


class CellFault(ValueError):
    """What is wrong with a cell, and the cure."""

    def __init__(self, problem: str, cure: str) -> None:
        super().__init__(problem)
        self.problem = problem
        self.cure = cure


def number(text: str, low: float, high: float) -> float:
    """Return a figure within bounds; a decimal comma is refused, not guessed at."""
    try:
        value = float(text)
    except ValueError:
        raise CellFault(f"'{text}' is not a number", "write digits, with a point") from None
    if not math.isfinite(value) or not low <= value <= high:
        raise CellFault(
            f"{text} is outside what is possible here", f"give {low:g} to {high:g}"
        )
    return value


def moment(text: str) -> float:
    """Return a time as seconds: seconds as they are, or a clock HH:MM:SS."""
    clock = CLOCK.fullmatch(text)
    if clock and int(clock[1]) < 24:
        return 3600.0 * int(clock[1]) + 60.0 * int(clock[2]) + float(clock[3])
    if ":" in text:
        raise CellFault(f"'{text}' is not a time", "write it like 07:45:12 or 07:45:12.5")
    return number(text, 0.0, 1e10)


def step(text: str) -> int:
    """Return a brake step: 0 or 'off', a whole number, or 'emergency'."""
    if text.lower() in STEPS:
        return STEPS[text.lower()]
    if not re.fullmatch(r"[1-9]", text):
        raise CellFault(f"'{text}' is not a brake step", "write 0 to 9, or emergency")
    return int(text)


def flag(text: str) -> bool:
    """Return whether wheel-slide protection was at work."""
    if text.lower() in YES:
        return True
    if text.lower() in NO:
        return False
    raise CellFault(f"'{text}' is neither on nor off", "write 1 or 0")
