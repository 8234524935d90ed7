"""What is wrong with a file of observations, by row and column, with the cure."""

from __future__ import annotations

from dataclasses import dataclass

from marshmallow import ValidationError


@dataclass(frozen=True, order=True)
class WeatherFault:
    """One fault; row 1 is the heading, row 0 none."""

    row: int
    column: str
    problem: str
    cure: str

    def __str__(self) -> str:
        row = f"row {self.row}" if self.row else ""
        column = f"column {self.column}" if self.column else ""
        where = ", ".join(part for part in (row, column) if part) or "the whole"
        return f"{where}: {self.problem}. Cure: {self.cure}."


class WeatherFaults(ValueError):
    """Raised with every fault of a file; nothing of it was taken."""

    def __init__(self, file: str, faults: list[WeatherFault]) -> None:
        self.file, self.faults = file, sorted(set(faults))
        super().__init__(f"{len(self.faults)} faults in {file}")

    def __str__(self) -> str:
        return "\n".join(f"{self.file}, {fault}" for fault in self.faults)


def faults_of(row: int, error: ValidationError) -> list[WeatherFault]:
    """Return marshmallow's messages, each "problem | cure", as faults of a row."""
    messages = error.messages if isinstance(error.messages, dict) else {"": error.messages}
    found = []
    for column, said in messages.items():
        for message in said if isinstance(said, list) else [str(said)]:
            problem, _, cure = str(message).partition(" | ")
            found.append(WeatherFault(row, str(column), _plain(problem), cure or "mend it"))
    return found


def _plain(problem: str) -> str:
    if problem.startswith("Missing data"):
        return "it is missing"
    return "it is not known here" if problem.startswith("Unknown field") else problem
