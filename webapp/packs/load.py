"""Turn raw rows and tables into records, noting every fault marshmallow finds."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from marshmallow import Schema, ValidationError

from webapp.packs.faults import FaultList
from webapp.packs.fields import cut
from webapp.packs.rows import Table
from webapp.packs.sources import RawRow, toml_row

Path = tuple[str | int, ...]


def load_rows(table: Table, rows: list[RawRow], faults: FaultList) -> list[Any]:
    """Return one record for each good row."""
    schema = table.schema(rows[0].cells if rows else ())
    records = []
    for raw in rows:
        try:
            records.append(table.record(**schema.load(raw.cells), row=raw.row))
        except ValidationError as error:
            for path, message in flattened(error.messages):
                problem, cure = _in_words(path, message)
                faults.add(table.file, raw.row, str(path[0]), problem, cure)
    return records


class TomlLoader:
    """Loads the tables of one TOML file; errors name the line in that file."""

    def __init__(self, file: str, data: dict[str, Any], text: str, faults: FaultList) -> None:
        self.file, self.data, self.text, self.faults = file, data, text, faults

    def refuse_unknown(self, known: set[str]) -> None:
        for name in self.data.keys() - known:
            row = toml_row(self.text, name, 0, "")
            self.faults.add(
                *(self.file, row, name, f"the table [{cut(name)}] is not known"),
                f"mend its spelling; known are {', '.join(sorted(known))}",
            )

    def one(self, name: str, schema: Schema) -> dict[str, Any] | None:
        """Load the single table ``[name]``."""
        raw = self.data.get(name)
        if not isinstance(raw, dict):
            self._missing(f"[{name}]", name)
            return None
        return self._load(name, 0, raw, schema)

    def many(self, name: str, schema: Schema) -> list[tuple[dict[str, Any], int]]:
        """Load every ``[[name]]`` with the line of its heading."""
        raw = self.data.get(name)
        if not isinstance(raw, list) or not all(isinstance(item, dict) for item in raw):
            self._missing(f"[[{name}]]", name)
            return []
        loaded = [(self._load(name, n, item, schema), n) for n, item in enumerate(raw)]
        return [
            (item, toml_row(self.text, name, n, "key"))
            for item, n in loaded
            if item is not None
        ]

    def _missing(self, written: str, name: str) -> None:
        self.faults.add(
            self.file, 1, name, f"the table {written} is missing", f"add a table {written}"
        )

    def _load(
        self, name: str, number: int, raw: dict[str, Any], schema: Schema
    ) -> dict[str, Any] | None:
        try:
            loaded: dict[str, Any] = schema.load(raw)
            return loaded
        except ValidationError as error:
            for path, message in flattened(error.messages):
                problem, cure = _in_words(path, message)
                row = self._row(name, number, path)
                column = ".".join(str(part) for part in (name, *path))
                self.faults.add(self.file, row, column, problem, cure)
            return None

    def _row(self, name: str, number: int, path: Path) -> int:
        """Find the line of a key, also inside a nested ``[[name.child]]``."""
        if len(path) >= 3 and isinstance(path[1], int):
            child = str(path[0])
            before = sum(len(item.get(child, ())) for item in self.data[name][:number])
            return toml_row(self.text, f"{name}.{child}", before + path[1], str(path[2]))
        return toml_row(self.text, name, number, str(path[0]))


def flattened(messages: Any, path: Path = ()) -> Iterator[tuple[Path, str]]:
    """Walk marshmallow's nested messages as (path, message)."""
    if isinstance(messages, dict):
        for key, inner in messages.items():
            yield from flattened(inner, (*path, key))
    else:
        for message in messages:
            yield path, message


def _in_words(path: Path, message: str) -> tuple[str, str]:
    if " | " in message:
        problem, cure = message.split(" | ", 1)
        return problem, cure
    name = path[-1] if path else ""
    if message.startswith("Missing data"):
        return f"'{name}' is missing", f"add {name}"
    if message.startswith("Unknown field"):
        return f"'{cut(name)}' is not known here", "mend its spelling; a note stands after a #"
    return message.rstrip("."), f"mend {name}"
