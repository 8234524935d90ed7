"""Small mistakes made in a piece of code, one at a time, to see that its tests can fail.

A mutant is the text with one operator or number turned: `<` to `<=`, `max` to `min`, 0 to 1.
Comments and strings stay as they are.
"""

from __future__ import annotations

import io
import tokenize
from collections.abc import Iterator
from dataclasses import dataclass

import tree_sitter_javascript
from tree_sitter import Language, Node, Parser

TURNED = {
    "<": "<=", "<=": "<", ">": ">=", ">=": ">", "==": "!=", "!=": "==",
    "===": "!==", "!==": "===", "+": "-", "-": "+", "&&": "||", "||": "&&",
    "and": "or", "or": "and", "max": "min", "min": "max", "ceil": "floor",
    "0": "1", "1": "2", "true": "false", "false": "true", "True": "False", "False": "True",
}  # fmt: skip


@dataclass(frozen=True)
class Mutant:
    """One mistake: where, and the whole text with it."""

    line: str
    token: str
    nth: int
    text: str

    @property
    def name(self) -> str:
        """The line it is in, and which of its tokens is turned; a line number would move."""
        return f"{self.line} [{self.token} {self.nth}]"


def of_python(text: str) -> Iterator[Mutant]:
    """Give the mutants of a Python module."""
    lines = text.splitlines(keepends=True)
    starts = [0]
    for line in lines:
        starts.append(starts[-1] + len(line))
    tokens = tokenize.generate_tokens(io.StringIO(text).readline)
    kinds = (tokenize.OP, tokenize.NAME, tokenize.NUMBER)
    places = [
        starts[token.start[0] - 1] + token.start[1] for token in tokens
        if token.type in kinds and token.string in TURNED
    ]  # fmt: skip
    return _mutants(text, places)


def of_javascript(text: str) -> Iterator[Mutant]:
    """Give the mutants of a JavaScript module."""
    source = text.encode()
    tree = Parser(Language(tree_sitter_javascript.language())).parse(source)
    places = [len(source[:at].decode()) for at in _leaves(tree.root_node, source)]
    return _mutants(text, places)


def _leaves(node: Node, source: bytes) -> Iterator[int]:
    if node.type in ("comment", "string", "template_string", "regex"):
        return
    if not node.children and source[node.start_byte : node.end_byte].decode() in TURNED:
        yield node.start_byte
    for child in node.children:
        yield from _leaves(child, source)


def _token(text: str, at: int) -> str:
    return max((token for token in TURNED if text.startswith(token, at)), key=len)


def _mutants(text: str, places: list[int]) -> Iterator[Mutant]:
    seen: dict[tuple[str, str], int] = {}
    for at in places:
        token = _token(text, at)
        start = text.rfind("\n", 0, at) + 1
        line = text[start : text.find("\n", at)].strip()
        nth = seen[line, token] = seen.get((line, token), 0) + 1
        yield Mutant(line, token, nth, text[:at] + TURNED[token] + text[at + len(token) :])
