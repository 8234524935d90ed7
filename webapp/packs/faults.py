"""What is wrong with a route folder, said so that its author can put it right."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass


@dataclass(frozen=True, order=True)
class Fault:
    """One fault: where it is, what is wrong and what to do."""

    file: str
    row: int
    column: str
    problem: str
    cure: str

    def __str__(self) -> str:
        where = self.file
        if self.row:
            where += f", row {self.row}"
        if self.column:
            where += f", column {self.column}"
        return f"{where}: {self.problem}. Cure: {self.cure}."


class RouteFaults(Exception):
    """Raised with every fault of a route folder; nothing was built."""

    def __init__(self, faults: list[Fault]) -> None:
        self.faults = sorted(set(faults))
        super().__init__(f"{len(self.faults)} faults in the route folder")

    def __str__(self) -> str:
        return "\n".join(str(fault) for fault in self.faults)


class FaultList:
    """Collects faults; remembers which rows of which file are already known as bad."""

    def __init__(self) -> None:
        self._faults: list[Fault] = []

    def add(self, file: str, row: int, column: str, problem: str, cure: str) -> None:
        self._faults.append(Fault(file, row, column, problem, cure))

    def __iter__(self) -> Iterator[Fault]:
        return iter(self._faults)

    def __len__(self) -> int:
        return len(self._faults)

    def bad_rows(self, file: str) -> set[int]:
        return {fault.row for fault in self._faults if fault.file == file}

    def has(self, file: str) -> bool:
        return any(fault.file == file for fault in self._faults)

    def raise_if_any(self) -> None:
        if self._faults:
            raise RouteFaults(self._faults)
