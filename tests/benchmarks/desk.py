"""How quick every page of the desk is at a large depot: printed, not asserted.

Run as ``python -m tests.benchmarks.desk [sqlite|postgres] [a part of an address]``. Aim:
95 of 100 answers within 300 ms. Pages come from the URL map, so a new one is measured by
itself; `TURNS` adds what a page can be asked for besides. A time says something about a
machine and what else it did, so the load average stands above and below; the last column,
the ratio to the quickest page of the same run, says something about the program. A file's
time is that to its first byte.
"""

from __future__ import annotations

import os
import re
import shutil
import sys
import tempfile
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from datetime import UTC, datetime
from pathlib import Path
from statistics import quantiles
from time import perf_counter

import flask_migrate
from flask import Flask
from flask.testing import FlaskClient
from sqlalchemy import create_engine, insert, select

from tests.support.demo import prepared_demo
from tests.support.desk import desk_client
from tests.support.large_depot import RARE_WORD, Sizes, fill_large
from tests.support.postgres import running_postgres
from tests.support.queries import counted
from tests.support.whole_desk import Depot, desk_addresses, fill
from webapp import create_app
from webapp.store.db import db

TIMES, AIM_S, LONGEST_S = 25, 0.3, 4.0
STORES = ("sqlite", "postgres")
PACK_TABLES = ("pack_file", "index_rev", "feed_clock")
#: What a page can be asked for besides its bare address.
TURNS = (
    *("/desk/reports?sort=newest", "/desk/reports?sort=oldest", "/desk/reports?sort=seen"),
    *("/desk/reports?found=reportable", "/desk/reports?found=reportable&sort=seen"),
    *("/desk/reports?happened=overrun", "/desk/reports?line=orrin&sort=seen"),
    *("/desk/reports?line=orrin&direction=down", "/desk/reports?line=orrin&direction=none"),
    *("/desk/reports?state=waiting", "/desk/reports?state=reviewed"),
    *("/desk/reports?state=repeat", "/desk/reports?apart=yes&sort=newest"),
    *("/desk/reports?rail=none", "/desk/reports?since=2020-01-01&until=2020-02-01"),
    *(f"/desk/reports?q={RARE_WORD}", "/desk/reports?q=leaves", "/desk/reports?q=xyzzy"),
    *("/desk/reports?q=1234", "/desk/reports?q=leaves+bridge+waited&found=good"),
    *("/desk/reports?q=e", "/desk/reports?q=leaves&line=orrin&sort=seen"),
    *("/desk/warnings?show=due", "/desk/warnings?show=drafts", "/desk/warnings?show=ended"),
    *("/desk/warnings?show=live&line=orrin", "/desk/warnings?show=ended&line=none"),
    *("/desk/warnings.csv?show=ended", "/desk/warnings.geojson?show=ended"),
    *("/desk/tablets?ended=1", "/desk/handover?since=2020-01-01T00:00"),
    *("/desk/control?line=orrin", "/desk/control?line=kettle-bay"),
    *("/desk/places?show=proposed", "/desk/places?show=retired", "/desk/places?line=orrin"),
    *("/desk/restrictions?show=to-come", "/desk/restrictions?show=ended"),
)
#: Pages that go on: the next ones are measured too, by the words of the link.
GO_ON = {
    "/desk/reports": r'rel="next" href="([^"]+)"',
    "/desk/reports?sort=newest": r'rel="next" href="([^"]+)"',
    "/desk/warnings?show=ended": r'href="([^"]+)">Older warnings',
    "/desk/tablets": r'href="([^"]+)"[^>]*>[^<]*[Mm]ore tablets',
    "/desk/places": r'href="([^"]+)">More places',
    "/desk/seals": r'href="([^"]+)">Older seals',
}
#: The newest of many, where the pages differ from the one of a small depot.
FIRST_OF = {
    "/desk/reports?sort=newest": r'href="(/desk/reports/[0-9a-f-]{36})"',
    "/desk/warnings": r'href="(/desk/warnings/[0-9a-f-]{36})"',
    "/desk/tablets": r'href="(/desk/tablets/[0-9a-f-]{36})"',
    "/desk/places": r'href="(/desk/places/[0-9a-f-]{36})"',
    "/desk/seals": r'href="(/desk/seals/[0-9a-f-]{36})"',
}


@contextmanager
def database(store: str) -> Iterator[str | None]:
    """The address of a new PostgreSQL database; None for SQLite."""
    if store == "sqlite":
        yield None
        return
    with running_postgres() as url:
        if url is None:
            raise SystemExit("No PostgreSQL: install it, or run with `sqlite` alone.")
        name = "sih_bench"
        admin = create_engine(url, isolation_level="AUTOCOMMIT")
        with admin.connect() as link:
            link.exec_driver_sql(f"DROP DATABASE IF EXISTS {name} WITH (FORCE)")
            link.exec_driver_sql(f"CREATE DATABASE {name}")
        yield url.rsplit("/", 1)[0] + f"/{name}"
        with admin.connect() as link:
            link.exec_driver_sql(f"DROP DATABASE {name} WITH (FORCE)")
        admin.dispose()


def large_app(data: Path, url: str | None, sizes: Sizes) -> tuple[Flask, Depot]:
    """An application on a store with both demo lines and a depot of this size."""
    shutil.copytree(prepared_demo(data / "scratch"), data / "depot")
    app = create_app({"DATA": data / "depot", "DEMO": True, "DATABASE_URL": url})
    with app.app_context():
        if url:
            flask_migrate.upgrade()
            _copy_packs(data / "depot" / "step-in-hand.sqlite3")
    depot = fill(app)
    with app.app_context():
        fill_large(datetime.now(UTC), sizes)
    return app, depot


def _copy_packs(file: Path) -> None:
    """Take the published packs from the demo's file."""
    source = create_engine(f"sqlite:///{file}")
    with source.connect() as old, db.engine.begin() as new:
        for name in PACK_TABLES:
            table = db.metadata.tables[name]
            new.execute(table.delete())
            new.execute(
                insert(table), [dict(row._mapping) for row in old.execute(select(table))]
            )
    source.dispose()


def addresses(client: FlaskClient, app: Flask, depot: Depot) -> list[str]:
    """Every page of the desk, its turns, a second page and the newest of each list."""
    found = [*desk_addresses(app, depot).values(), *TURNS]
    for links in (GO_ON, FIRST_OF):
        for path, pattern in links.items():
            match = re.search(pattern, client.get(path).text)
            if match is None:
                raise SystemExit(f"{path} has no link like {pattern}")
            found.append(match[1].replace("&amp;", "&"))
    return list(dict.fromkeys(found))


def timed(get: Callable[[], object], times: int = TIMES) -> tuple[float, float, float]:
    """First, median and 95th percentile of some runs. [s]"""
    taken: list[float] = []
    # A page that is late is not asked for minutes: its time is known soon enough.
    while len(taken) < 6 or (len(taken) <= times and sum(taken) < LONGEST_S):
        begun = perf_counter()
        get()
        taken.append(perf_counter() - begun)
    cuts = quantiles(taken[1:], n=20, method="inclusive")
    return taken[0], cuts[9], cuts[18]


def measure(client: FlaskClient, app: Flask, paths: list[str]) -> None:
    """Print a row for each page, the slowest first."""
    rows = []
    for path in paths:
        with counted(app) as asked:
            answer = client.get(path)
        if answer.status_code not in (200, 302):
            raise SystemExit(f"{path} answers {answer.status_code}: {answer.text[:300]}")
        rows.append((*timed(lambda path=path: client.get(path)), len(asked), answer, path))
    quickest = min(row[1] for row in rows if row[4].mimetype == "text/html")
    print(f"{'first':>8}{'median':>9}{'95th':>9}{'queries':>9}{'bytes':>9}{'ratio':>8}")
    for first, median, high, queries, answer, path in sorted(rows, key=lambda row: -row[2]):
        # A file of up to 10,000 rows is fetched, not looked at.
        late = "  LATE" if high > AIM_S and answer.mimetype == "text/html" else ""
        print(
            f"{first * 1e3:8.1f}{median * 1e3:9.1f}{high * 1e3:9.1f}{queries:9}"
            f"{len(answer.data):9}{median / quickest:8.1f}  {path[:90]}{late}"
        )


def _load() -> str:
    return "load average " + " ".join(f"{one:.1f}" for one in os.getloadavg())


def main() -> None:
    """Fill each store and measure."""
    only = sys.argv[2] if len(sys.argv) > 2 else ""
    sizes = Sizes()
    for store in STORES:
        if len(sys.argv) > 1 and sys.argv[1] != store:
            continue
        with tempfile.TemporaryDirectory() as folder, database(store) as url:
            begun = perf_counter()
            app, depot = large_app(Path(folder), url, sizes)
            print(f"{store}: {sizes}, filled in {perf_counter() - begun:.0f} s; times in ms")
            client = desk_client(app, "publish", manages=True)
            paths = [one for one in addresses(client, app, depot) if only in one]
            print(_load())
            measure(client, app, paths)
            print(_load())
            with app.app_context():
                db.engine.dispose()


if __name__ == "__main__":
    main()
