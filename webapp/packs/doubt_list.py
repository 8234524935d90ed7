"""Collects what is odd in a route while it is looked through."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any


@dataclass(frozen=True)
class Odd:
    """Something odd: where it is, what, where to look, and the records it rests on."""

    kind: str
    file: str
    row: int
    column: str
    message: str
    look: str
    place: str
    """Names the thing within its file; it stays when the row moves or changes."""
    rests_on: tuple[Any, ...]


class DoubtList:
    """Collects odd things in the order they are found."""

    def __init__(self) -> None:
        self._odd: list[Odd] = []

    def add(
        self,
        kind: str,
        file: str,
        row: int,
        column: str,
        message: str,
        look: str,
        place: str,
        *rests_on: Any,
    ) -> None:
        self._odd.append(Odd(kind, file, row, column, message, look, place, rests_on))

    def __iter__(self) -> Iterator[Odd]:
        return iter(self._odd)
