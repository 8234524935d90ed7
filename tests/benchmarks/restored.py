"""How long until every report is there again after a restore: printed, not asserted.

Run as ``python -m tests.benchmarks.restored [sqlite|postgres]``. Fifty tablets hold fifty
delivered reports each; a backup of before any of them is put back; then all tablets come at
once, in process. Aim: all there within a minute of contact. A time says something about a
machine and what else it did, so the load average stands beside it.
"""

from __future__ import annotations

import os
import sys
import tempfile
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path
from time import perf_counter
from typing import Any

from flask import Flask

from tests.benchmarks.desk import STORES, database
from tests.webapp.keep.test_restored import TABLETS, Place, Tablet
from webapp import create_app
from webapp.commands import prepare

EACH, AIM_S = 50, 60.0


def main() -> None:
    """Measure one store, or both."""
    os.environ["STEP_IN_HAND_SECRET_KEY"] = "0123456789abcdef0123456789abcdef"
    for store in sys.argv[1:] or STORES:
        with database(store) as url, tempfile.TemporaryDirectory() as folder:
            if url:
                os.environ["STEP_IN_HAND_DATABASE_URL"] = url
            measure(store, Path(folder), url)
            os.environ.pop("STEP_IN_HAND_DATABASE_URL", None)


def measure(store: str, folder: Path, url: str | None) -> None:
    """Hand in, put back, come again; print the seconds from the first contact to the last."""

    def make(**settings: Any) -> Flask:
        app = create_app({"DATA": folder / "data", "DEMO": True, **settings})
        prepare.migrate(app)
        return app

    place = Place(make, folder, url)
    tablets = [Tablet(place) for _ in range(TABLETS)]
    backup = place.backed_up()
    for tablet in tablets:
        for _ in range(EACH):
            tablet.report()
        tablet.contact()
    before = place.rows()
    begun = perf_counter()
    place.put_back(backup)
    restored = perf_counter()
    assert place.rows() == {}
    with ThreadPoolExecutor(TABLETS) as pool:
        took = list(pool.map(_contact, tablets))
    all_there = perf_counter() - restored
    assert place.rows() == before, "not all are there again, each under its number"
    place.close()
    load = os.getloadavg()[0]
    print(
        f"{store}: {len(before)} reports of {TABLETS} tablets there again in "
        f"{all_there:.1f} s (aim {AIM_S:.0f} s), the slowest tablet {max(took):.1f} s; the "
        f"restore itself {restored - begun:.1f} s; load {load:.1f}"
    )


def _contact(tablet: Tablet) -> float:
    begun = perf_counter()
    tablet.contact()
    return perf_counter() - begun


if __name__ == "__main__":
    main()
