"""Put the sheets of the tablet app into one, so that a tablet asks once."""

from __future__ import annotations

import re

from webapp.tablet.bundle import refusal

IMPORT = re.compile(r'@import "([\w/-]+\.css)";')


def sheet(source: dict[str, bytes], entry: str) -> bytes:
    """
    Return one sheet: those that `entry` imports, in their order, and then its own rules.

    Raises SettingsError for an import of another form, for a sheet that is not there, and for
    a sheet that imports or has an address of its own: from `entry` it would name another file.
    """
    parts: list[str] = []
    for number, line in enumerate(source[entry].decode().splitlines(keepends=True), 1):
        found = IMPORT.fullmatch(line.strip())
        if found is None:
            if "@import" in line:
                raise refusal(
                    entry, number, 'write @import "looks/name.css"; on a line alone.'
                )
            parts.append(line)
        elif found[1] not in source:
            raise refusal(entry, number, f"there is no static/{found[1]}. Correct the name.")
        else:
            parts.append(f"/* {found[1]} */\n{_part(source[found[1]].decode(), found[1])}\n")
    return "".join(parts).encode()


def _part(text: str, name: str) -> str:
    for number, line in enumerate(text.splitlines(), 1):
        if "@import" in line or "url(" in line:
            raise refusal(name, number, "only static/app.css imports and names files.")
    return text
