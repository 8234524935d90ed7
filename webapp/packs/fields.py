"""marshmallow fields for the words and numbers a route author writes.

Each turns the text of one cell into a number in SI or a posted unit, and says in its
error what was found and how to write it. Errors read ``problem | cure``.
"""

from __future__ import annotations

import re
import unicodedata
from datetime import date
from typing import Any

from marshmallow import ValidationError, fields

from calc.units import gradient_from_one_in, metres_from_miles_chains
from webapp.lines.posts import place_along
from webapp.packs.model import DistanceUnit

_KEY = re.compile(r"[a-z0-9]+(-[a-z0-9]+)*")
# So many digits and no more: a number of hundreds would be read as infinite.
_MILES = re.compile(r"([0-9]{1,4})\s?mi?\s+([0-9]{1,3}(?:[.,][0-9]{1,6})?)\s?ch")
_KILOMETRES = re.compile(r"([0-9]{1,4}(?:[.,][0-9]{1,6})?)(?:\s?km)?")
_GRADIENT = re.compile(r"1 in ([0-9]{1,5}(?:\.[0-9]{1,4})?) (up|down)")
_CLOCK = re.compile(r"([0-9]{2}):([0-5][0-9])")
_MONTH_DAY = re.compile(r"([0-9]{2})-([0-9]{2})")
_WHOLE = re.compile(r"-?[0-9]+")
_NUMBER = re.compile(r"-?[0-9]{1,15}(\.[0-9]{1,15})?")
STEEPEST = 20.0
#: Characters of any one text; the longest basis of a demo train has half as many.
LONGEST_TEXT = 500
#: Digits of a whole number; Python itself refuses to read one of thousands.
LONGEST_WHOLE = 18


def fault(problem: str, cure: str) -> ValidationError:
    return ValidationError(f"{problem} | {cure}")


class Text(fields.Field[str]):
    """Words in a cell; ``empty`` says whether none is allowed."""

    def __init__(
        self, *, empty: bool = False, choices: tuple[str, ...] = (), **kw: Any
    ) -> None:
        super().__init__(required=True, **kw)
        self.empty = empty
        self.choices = choices

    def _deserialize(self, value: Any, attr: Any, data: Any, **kwargs: Any) -> str:
        if not isinstance(value, str):
            raise fault(f"'{cut(value)}' is not text", "put it in quotation marks")
        text = value.strip()
        if not text and not self.empty:
            raise fault("the cell is empty", "fill it in")
        _refuse_unshowable(text)
        if self.choices and text not in self.choices:
            raise fault(f"'{cut(text)}' is not known here", f"write {_one_of(self.choices)}")
        return text


def _refuse_unshowable(text: str) -> None:
    """Names and words end on a card: one line, nothing unseen in it."""
    if len(text) > LONGEST_TEXT:
        raise fault(f"the text has {len(text)} characters", f"use at most {LONGEST_TEXT}")
    hidden = [c for c in text if unicodedata.category(c) in {"Cc", "Cf", "Cs", "Zl", "Zp"}]
    if hidden:
        problem = f"an unseen character (U+{ord(hidden[0]):04X}) is in the text"
        raise fault(problem, "take it out; write the text on one line")


class Key(Text):
    """An identity used inside the pack: small letters, digits and hyphens."""

    def _deserialize(self, value: Any, attr: Any, data: Any, **kwargs: Any) -> str:
        text = super()._deserialize(value, attr, data, **kwargs)
        if not _KEY.fullmatch(text):
            made = as_key(text)
            cure = "use small letters, digits and single hyphens only"
            raise fault(
                f"'{cut(text)}' is not a key",
                f"{cure}: '{made}'" if made and len(made) < 60 else cure,
            )
        return text


def as_key(text: str) -> str:
    """Return the key an author most likely meant by these words."""
    plain = unicodedata.normalize("NFKD", text).encode("ascii", "ignore").decode()
    return "-".join(re.findall(r"[a-z0-9]+", plain.lower().replace("'", "")))


class Distance(fields.Field[float]):
    """A place on the line's chainage, as posted. [m]"""

    def __init__(self, unit: DistanceUnit, **kw: Any) -> None:
        super().__init__(required=True, **kw)
        self.unit = unit

    def _deserialize(self, value: Any, attr: Any, data: Any, **kwargs: Any) -> float:
        text = _text(value).strip()
        return _miles_chains(text) if self.unit == "mi-ch" else _kilometres(text)


def _miles_chains(text: str) -> float:
    found = _MILES.fullmatch(text)
    if not found:
        raise fault(f"'{cut(text)}' is not miles and chains", "write it like 31 mi 20 ch")
    miles, chains = int(found[1]), _number(found[2])
    if chains >= 80:
        right = place_along(metres_from_miles_chains(miles, chains), "mi-ch")
        raise fault(f"'{text}' has 80 chains or more", f"80 chains are a mile: write {right}")
    return round(metres_from_miles_chains(miles, chains), 2)


def _kilometres(text: str) -> float:
    found = _KILOMETRES.fullmatch(text)
    if not found:
        raise fault(f"'{cut(text)}' is not kilometres", "write it like 12.345")
    return round(_number(found[1]) * 1000.0, 2)


def _number(text: str) -> float:
    """Read a figure with a point or, as the German tablet writes it, a comma."""
    return float(text.replace(",", "."))


class Whole(fields.Field[int]):
    """A whole number within bounds, perhaps a multiple of something."""

    def __init__(
        self, low: int, high: int, *, step: int = 1, unit: str = "", **kw: Any
    ) -> None:
        super().__init__(required=True, **kw)
        self.low, self.high, self.step, self.unit = low, high, step, unit

    def _deserialize(self, value: Any, attr: Any, data: Any, **kwargs: Any) -> int:
        text = _text(value).strip()
        if isinstance(value, bool) or not _WHOLE.fullmatch(text):
            raise fault(f"'{cut(text)}' is not a whole number", "write digits only")
        if len(text) > LONGEST_WHOLE:
            raise _out_of_range(f"{text[:LONGEST_WHOLE]}…", self.low, self.high, self.unit)
        number = int(text)
        if not self.low <= number <= self.high:
            raise _out_of_range(text, self.low, self.high, self.unit)
        if number % self.step:
            raise self._between_steps(number)
        return number

    def _between_steps(self, number: int) -> ValidationError:
        return fault(
            f"{number} is not a multiple of {self.step}", f"give a multiple of {self.step}"
        )


class PostedSpeed(Whole):
    """A permanent speed as its board shows it, a multiple of the dial.

    Neither a higher nor a lower one may be written in its place: a rounded limit moves
    the brake mark before it, or the speed a train comes with.
    """

    def __init__(self, dial: int, **kw: Any) -> None:
        super().__init__(5, 400, step=dial, unit="posted units", **kw)

    def _between_steps(self, number: int) -> ValidationError:
        problem = f"{number} is not a multiple of {self.step}"
        if number % 5 == 0:
            return fault(problem, "set dial = 5 in route.toml and leave the speed as posted")
        cure = "read it again in the line's own list of speeds; do not round it"
        return fault(problem, cure)


class Number(fields.Field[float]):
    """A number within bounds; ``above`` leaves the lower bound itself out."""

    def __init__(
        self, low: float, high: float, *, above: bool = False, unit: str = "", **kw: Any
    ) -> None:
        super().__init__(required=True, **kw)
        self.low, self.high, self.above, self.unit = low, high, above, unit

    def _deserialize(self, value: Any, attr: Any, data: Any, **kwargs: Any) -> float:
        written = isinstance(value, str)
        if isinstance(value, bool) or (written and not _NUMBER.fullmatch(value.strip())):
            raise fault(f"'{cut(value)}' is not a number", "write digits")
        try:
            number = float(value)
        except (TypeError, ValueError, OverflowError):
            raise fault(f"'{cut(value)}' is not a number", "write digits") from None
        too_low = number <= self.low if self.above else number < self.low
        if too_low or not number <= self.high:
            raise _out_of_range(cut(value), self.low, self.high, self.unit, self.above)
        return number


def cut(value: Any) -> str:
    """Return what was found, at most as long as a message can show."""
    text = _text(value)
    return text if len(text) <= 40 else f"{text[:40]}…"


def _text(value: Any) -> str:
    """Return a value as text; Python refuses to write a number of thousands of digits."""
    huge = isinstance(value, int) and abs(value) >= 10**LONGEST_WHOLE
    return "a huge number" if huge else str(value)


def _out_of_range(
    text: str, low: float, high: float, unit: str, above: bool = False
) -> ValidationError:
    start = "above" if above else "from"
    span = f"{start} {low:g} to {high:g} {unit}".rstrip()
    return fault(f"{text} is outside what is possible here", f"give a number {span}")


class GradientText(fields.Field[float]):
    """A gradient seen towards rising chainage, as a ratio, rising positive."""

    def _deserialize(self, value: Any, attr: Any, data: Any, **kwargs: Any) -> float:
        text = _text(value).strip()
        if text == "level":
            return 0.0
        found = _GRADIENT.fullmatch(text)
        if not found:
            cure = "write 'level', '1 in 75 up' or '1 in 75 down', towards rising distance"
            raise fault(f"'{cut(text)}' is not a gradient", cure)
        run = float(found[1])
        if run < STEEPEST:
            cure = (
                "read it again in the line's own list; for a steeper line there is no advice"
            )
            raise fault(f"'{text}' is steeper than 1 in {STEEPEST:g}", cure)
        return gradient_from_one_in(run if found[2] == "up" else -run)


class Clock(fields.Field[str]):
    """A time of the timetable, HH:MM, which may pass 24:00; empty is allowed."""

    def _deserialize(self, value: Any, attr: Any, data: Any, **kwargs: Any) -> str:
        text = _text(value).strip()
        found = _CLOCK.fullmatch(text)
        if text and (not found or int(found[1]) > 29):
            raise fault(
                f"'{cut(text)}' is not a time", "write it like 07:45, or 24:10 after midnight"
            )
        return text


class MonthDay(fields.Field[str]):
    """A day of the year, MM-DD; empty is allowed."""

    def _deserialize(self, value: Any, attr: Any, data: Any, **kwargs: Any) -> str:
        text = _text(value).strip()
        found = _MONTH_DAY.fullmatch(text)
        try:
            if text:
                date(2000, int(found[1]) if found else 0, int(found[2]) if found else 0)
        except ValueError:
            raise fault(
                f"'{cut(text)}' is not a day", "write it like 10-01 for 1 October"
            ) from None
        return text


class Day(fields.Field[str]):
    """A day of a year, YYYY-MM-DD."""

    def _deserialize(self, value: Any, attr: Any, data: Any, **kwargs: Any) -> str:
        text = _text(value).strip()
        try:
            return date.fromisoformat(text).isoformat()
        except ValueError:
            raise fault(f"'{cut(text)}' is not a day", "write it like 2026-10-01") from None


def _one_of(choices: tuple[str, ...]) -> str:
    return " or ".join(f"'{choice}'" for choice in choices)
