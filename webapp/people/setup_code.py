"""The code for the first account: made on the server, shown there, used once.

Whoever can read the server's own terminal or data folder may make the first account;
there is no default password to forget.
"""

from __future__ import annotations

import hmac
import secrets
from pathlib import Path

FILE = "set-up-code"
# No letters or digits that look alike when read aloud or typed.
LETTERS = "ABCDEFGHJKMNPQRSTUVWXYZ23456789"
LENGTH = 12


def made(data: Path) -> str:
    """Return the code of this data folder, making it if there is none."""
    path = data / FILE
    try:
        return path.read_text("ascii").strip()
    except (FileNotFoundError, UnicodeDecodeError):
        code = "".join(secrets.choice(LETTERS) for _ in range(LENGTH))
        path.touch(mode=0o600)
        path.write_text(code, "ascii")
        return code


def shown(code: str) -> str:
    """Write a code in groups of four."""
    return "-".join(code[start : start + 4] for start in range(0, len(code), 4))


def fits(data: Path, typed: str) -> bool:
    """Whether this is the code; without a file nothing fits."""
    try:
        code = (data / FILE).read_text("ascii").strip()
    except (FileNotFoundError, UnicodeDecodeError):
        return False
    return len(code) == LENGTH and hmac.compare_digest(code.encode(), plain(typed).encode())


def plain(typed: str) -> str:
    return "".join(letter for letter in typed.upper() if letter.isalnum())


def used(data: Path) -> None:
    (data / FILE).unlink(missing_ok=True)
