"""What a pack's own words are in another language that a tablet speaks: ``names.csv``.

A row says it for one text, or with ``*`` for all that are alike: ``* post`` and ``km *``.
A row for one text goes before those. The pack carries every pair written out, so that a
tablet only looks up.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from typing import Any

from webapp.packs.model import Name
from webapp.plain.agreed import SPOKEN


def names_in(base: Mapping[str, Any], names: tuple[Name, ...]) -> dict[str, dict[str, str]]:
    """Return what each text of a pack is called, by language.

    A row for exactly this text goes before those with a star; else the first that fits.
    """
    out: dict[str, dict[str, str]] = {}
    exact_first = sorted(names, key=lambda name: "*" in name.words)
    for text in sorted(set(texts(base))):
        for name in exact_first:
            said = out.setdefault(name.language, {})
            found = pattern(name.words).fullmatch(text)
            if found and text not in said:
                said[text] = _put_in(name.say, found.groups())
    return out


def texts(base: Mapping[str, Any]) -> Iterator[str]:
    """Yield every text of a base file that a tablet shows as it stands there."""
    for path in SPOKEN:
        yield from _at(base, path.split("."))


def _at(value: Any, path: list[str]) -> Iterator[str]:
    if isinstance(value, list):
        for one in value:
            yield from _at(one, path)
    elif path and isinstance(value, Mapping):
        yield from _at(value.get(path[0]), path[1:])
    elif isinstance(value, str) and not path and value:
        yield value


def pattern(words: str) -> re.Pattern[str]:
    """Return what the words of a row fit; each ``*`` is a group."""
    return re.compile("(.+?)".join(re.escape(part) for part in words.split("*")))


def _put_in(say: str, parts: tuple[str, ...]) -> str:
    pieces = say.split("*")
    return "".join(piece + part for piece, part in zip(pieces, (*parts, ""), strict=True))
