"""Tokens for machines, codes for people to read aloud and type, and what is kept of both."""

from __future__ import annotations

import hashlib
import secrets

from webapp.plain.agreed import KEY_DIGITS, KEY_LETTERS, LETTERS

TOKEN_BYTES = 32


def new_token() -> str:
    """Return 256 random bits for a cookie."""
    return secrets.token_urlsafe(TOKEN_BYTES)


def new_code(length: int) -> str:
    """Return a code that a person can read aloud: five bits a letter, a little less."""
    return "".join(secrets.choice(LETTERS) for _ in range(length))


def of_key(key_id: str) -> str:
    """Return the eight letters that name a depot's key in a code; as `static/core/code.js`."""
    rest, name = int(key_id[:KEY_DIGITS], 16), ""
    for _ in range(KEY_LETTERS):
        rest, place = divmod(rest, len(LETTERS))
        name = LETTERS[place] + name
    return name


def shown(code: str) -> str:
    """Write a code in groups of four."""
    return "-".join(code[start : start + 4] for start in range(0, len(code), 4))


def plain(typed: str) -> str:
    """Read a code as people type it: any case, with dashes or blanks."""
    return "".join(letter for letter in typed.upper() if letter.isalnum())


def sha(text: str) -> str:
    """Name a secret without keeping it."""
    return hashlib.sha256(text.encode("utf-8", "surrogatepass")).hexdigest()
