"""How often one tablet, or one address, may ask; how many files go out at once.

Kept in the process: what is limited here is its threads. A tablet that is enrolled is
counted by its token, since three hundred share one address; everybody else by address, of
IPv6 by /64. The figures are own choices, no source.
"""

from __future__ import annotations

import threading
import time
from collections.abc import Callable
from dataclasses import dataclass
from datetime import timedelta

from flask import Flask, request

from webapp.plain import codes
from webapp.plain.addresses import network
from webapp.records import tablets
from webapp.store.db import reading
from webapp.web import tablet_cookie
from webapp.web.problem import Problem, too_many

#: What costs little, is needed to keep a report, or watches the server, is not counted.
COUNTED = ("/api/", "/packs/", "/desk")
#: A token is believed so long before the database is asked again.
BELIEVED_S = 60.0
MOST_KEYS = 20_000
# Of the server's threads so many may wait for readers of large files, one for each account.
MOST_FILES, FILES_OF_ONE = 3, 1


@dataclass(frozen=True)
class Rate:
    """So many at once, and so many a second after that."""

    at_once: float
    a_second: float


TABLET, ADDRESS, LOOK_UPS = Rate(240, 4), Rate(600, 20), Rate(500, 50)


class Buckets:
    """Tokens left by key; what is full again is forgotten."""

    def __init__(self, clock: Callable[[], float] = time.monotonic) -> None:
        self._clock, self._lock = clock, threading.Lock()
        self._left: dict[str, tuple[float, float, Rate]] = {}

    def wait(self, key: str, rate: Rate) -> timedelta | None:
        """Take one token, or return how long until there is one."""
        now = self._clock()
        with self._lock:
            left = self._now(key, rate, now)
            if left < 1:
                return timedelta(seconds=(1 - left) / rate.a_second)
            if len(self._left) >= MOST_KEYS:
                self._sweep(now)
            self._left[key] = left - 1, now, rate
        return None

    def _now(self, key: str, rate: Rate, now: float) -> float:
        left, since, _ = self._left.get(key, (rate.at_once, now, rate))
        return min(rate.at_once, left + (now - since) * rate.a_second)

    def _sweep(self, now: float) -> None:
        full = [
            k
            for k, (_, _, rate) in self._left.items()
            if self._now(k, rate, now) >= rate.at_once
        ]
        # Where nobody is full, everybody begins again: the count is no proof of anything.
        for key in full or list(self._left):
            del self._left[key]


class Limits:
    """Whose request is counted on what."""

    def __init__(self, valid: Callable[[str], bool], buckets: Buckets | None = None) -> None:
        self._valid, self._buckets = valid, buckets or Buckets()
        self._believed: dict[str, float] = {}

    def wait(self, token: str | None, address: str) -> timedelta | None:
        """Count one request; return how long to wait if it is one too many."""
        sha = codes.sha(token) if token else None
        if sha and self._is_tablet(sha, str(token)):
            return self._buckets.wait(f"tablet {sha}", TABLET)
        return self._buckets.wait(f"address {network(address)}", ADDRESS)

    def _is_tablet(self, sha: str, token: str) -> bool:
        now = time.monotonic()
        if self._believed.get(sha, 0.0) > now:
            return True
        # Made-up tokens must not buy work from the database.
        if self._buckets.wait("look-ups", LOOK_UPS) is not None or not self._valid(token):
            return False
        if len(self._believed) >= MOST_KEYS:
            self._believed.clear()
        self._believed[sha] = now + BELIEVED_S
        return True


class Slots:
    """So many files going out at once, and so many of one account."""

    def __init__(self, most: int, of_one: int) -> None:
        self._most, self._of_one = most, of_one
        self._lock = threading.Lock()
        self._taken: dict[str, int] = {}

    def take(self, who: str) -> Callable[[], None] | None:
        """Return what gives the slot back (once, however often it is called); None if full."""
        with self._lock:
            mine = self._taken.get(who, 0)
            if mine >= self._of_one or sum(self._taken.values()) >= self._most:
                return None
            self._taken[who] = mine + 1
        given = threading.Lock()

        def give_back() -> None:
            if given.acquire(blocking=False):
                with self._lock:
                    self._taken[who] -= 1
                    if not self._taken[who]:
                        del self._taken[who]

        return give_back


def attach(app: Flask) -> None:
    """Limit a running server's requests; in process, as tests ask, nothing is limited."""
    limits = Limits(_valid)
    app.extensions["exports"] = Slots(MOST_FILES, FILES_OF_ONE)

    @app.before_request
    def limit() -> None:
        if request.path.startswith(COUNTED):
            too_many(limits.wait(tablet_cookie.token(), request.remote_addr or ""))


def _valid(token: str) -> bool:
    with reading() as session:
        found = tablets.known(session, token)
    return found is not None and found.valid


def full() -> Problem:
    """Say that too many files go out already."""
    return Problem(
        429,
        "export_running",
        "A file of this account, or several of others, is being sent. Wait until it is there, "
        "then ask again.",
        headers={"Retry-After": "30"},
    )
