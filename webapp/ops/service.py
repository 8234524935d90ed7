"""Whether the depot can do its work: store answers, disk has room, key is there."""

from __future__ import annotations

import shutil
import threading
import time
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

from sqlalchemy.exc import SQLAlchemyError

from webapp.plain.config import SettingsError
from webapp.publish import service as publisher
from webapp.records import not_enrolled as strangers
from webapp.records import tablets
from webapp.records.reports import service as reports
from webapp.store import depot
from webapp.store.datafolder import FolderTrouble
from webapp.store.db import folder_of, reading

#: A verdict is good for so long: whoever asks often does not load the store.
GOOD_FOR_S = 1.0
OK = "ok"
GONE = "There is no signing key. Put keys/signing.json back from its backup."


@dataclass(frozen=True)
class Health:
    """What is wrong with each part, in words with the cure; None where nothing is."""

    store: str | None
    disk: str | None
    key: str | None

    @property
    def well(self) -> bool:
        return not any(vars(self).values())


class Checks:
    """Looks at the parts, at most once a second whoever asks."""

    def __init__(self, data: Path, floor_mb: int, load_key: Callable[[], object]) -> None:
        self.data, self.floor_mb, self.load_key = data, floor_mb, load_key
        self._lock = threading.Lock()
        self._seen: tuple[float, Health] | None = None

    def health(self) -> Health:
        """Return the verdict; call it where a database session can be had."""
        seen = self._seen
        if seen and time.monotonic() - seen[0] < GOOD_FOR_S:
            return seen[1]
        # Who finds another one looking waits for that verdict.
        with self._lock:
            if self._seen is seen or self._seen is None:
                found = Health(_store(), self._disk(), self._key())
                self._seen = time.monotonic(), found
            return self._seen[1]

    def free_bytes(self) -> int:
        """Return how much disk is free where the depot's data lies."""
        return shutil.disk_usage(self.data).free

    def figures(self) -> dict[str, tuple[str, float]]:
        """Return the figures that are looked up when somebody asks: words and value."""
        found = self.health()
        all_of_it = {
            f"{part}_well": (f"1 if the {part} is well, else 0.", float(words is None))
            for part, words in vars(found).items()
        }
        all_of_it["disk_free_bytes"] = "Free disk where the data lies.", self.free_bytes()
        return all_of_it if found.store else {**all_of_it, **_counts()}

    def _disk(self) -> str | None:
        if self.free_bytes() >= self.floor_mb * 1_000_000:
            return None
        return (
            f"{self.data}: less than {self.floor_mb} MB of the disk are free. Make room, or "
            "change STEP_IN_HAND_FREE_DISK_MB."
        )

    def _key(self) -> str | None:
        try:
            return None if self.load_key() else GONE
        except (SettingsError, OSError) as error:
            return str(error)


def _counts() -> dict[str, tuple[str, float]]:
    with reading() as session:
        apart = strangers.waiting(session).count
        return {
            "reports_highest_number": (
                "Highest number of a report.",
                reports.highest(session),
            ),
            "tablets_enrolled": ("Tablets in use.", tablets.count_in_use(session)),
            "not_enrolled_waiting": ("Held of tablets that are not enrolled.", apart),
            "index_serial": ("Serial of the signed index.", publisher.current(session).serial),
        }


def _store() -> str | None:
    try:
        with reading() as session:
            trouble = folder_of(session).trouble()
            depot.sure(session)
        return trouble
    except (SQLAlchemyError, FolderTrouble) as error:
        return str(error).splitlines()[0]
