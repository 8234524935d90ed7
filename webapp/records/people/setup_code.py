"""The code for the first account: made on the server, shown there, used once.

Whoever can read the server's own terminal or data folder may make the first account;
there is no default password to forget.
"""

from __future__ import annotations

import hmac
from pathlib import Path

from webapp.plain import codes

FILE = "set-up-code"
LENGTH = 12


def made(data: Path) -> str:
    """Return the code of this data folder, making it if there is none."""
    path = data / FILE
    try:
        return path.read_text("ascii").strip()
    except (FileNotFoundError, UnicodeDecodeError):
        code = codes.new_code(LENGTH)
        path.touch(mode=0o600)
        path.write_text(code, "ascii")
        return code


def fits(data: Path, typed: str) -> bool:
    """Whether this is the code; without a file nothing fits."""
    try:
        code = (data / FILE).read_text("ascii").strip()
    except (FileNotFoundError, UnicodeDecodeError):
        return False
    said = codes.plain(typed)
    return len(code) == LENGTH and hmac.compare_digest(code.encode(), said.encode())


def used(data: Path) -> None:
    (data / FILE).unlink(missing_ok=True)
