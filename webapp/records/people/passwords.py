"""Passwords: hashed with argon2id (RFC 9106), long enough, not common, not the name."""

from __future__ import annotations

from argon2 import PasswordHasher
from argon2.exceptions import InvalidHashError, VerificationError
from zxcvbn import zxcvbn

SHORTEST = 12
LONGEST = 200
# zxcvbn holds the lists: common passwords, names, words, keyboard walks, dates. Its score 3
# begins here. So many characters it rates; what follows only makes a password better.
FEWEST_GUESSES = 10**8
LONGEST_RATED = 72
NEAR_AT_HAND = ("step in hand", "stepinhand", "depot", "tablet", "railway")
# RFC 9106's second recommended set (64 MiB, 3 passes), the library's own default.
_hasher = PasswordHasher()
# Verified when no such account exists, so that both answers take equally long.
_NOBODY = _hasher.hash("nobody has this password")


def fault(password: str, login: str) -> str | None:
    """Say what is wrong with a new password, or None."""
    if len(password) < SHORTEST:
        return f"Use at least {SHORTEST} characters; a few words in a row will do."
    if len(password) > LONGEST:
        return f"Use at most {LONGEST} characters."
    if login.casefold() in password.casefold() or len(set(password)) < 5:
        return "Choose one that is not made of the login or of one letter repeated."
    if _guesses(password, login) < FEWEST_GUESSES:
        return (
            "This one is common or easily guessed. Use four or more words that do not belong "
            "together, or let a password manager make one."
        )
    return None


def _guesses(password: str, login: str) -> float:
    """Estimate in how many tries a guesser with lists of common ones comes to it."""
    found = zxcvbn(password[:LONGEST_RATED], user_inputs=[login, *NEAR_AT_HAND])
    return float(found["guesses"])


def hashed(password: str) -> str:
    return _hasher.hash(password)


def fits(pass_hash: str | None, password: str) -> bool:
    """Whether the password belongs to the hash; takes as long when there is none."""
    try:
        _hasher.verify(pass_hash or _NOBODY, password[: LONGEST + 1])
    except (VerificationError, InvalidHashError):
        return False
    return pass_hash is not None
