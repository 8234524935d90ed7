"""Where the time of a report goes, and how much quicker a delivery is kept than one by one.

Run as ``python -m tests.benchmarks.intake [turns]``. In one run, by turns: deliveries of 50 as
the server takes them in, others one by one (as before they were kept together), their
validation and their fingerprints alone, and the bare store: the same rows, 50 a durable
commit, without any of our code. Ratios are printed; times say something about a machine.
"""

from __future__ import annotations

import json
import sqlite3
import sys
import tempfile
from collections.abc import Callable
from contextlib import closing
from pathlib import Path
from statistics import median
from time import perf_counter
from unittest import mock

from flask.testing import FlaskClient

from tests.support.reports import CHANGE, batch, item
from webapp import create_app
from webapp.commands import prepare
from webapp.records import outbox as service

AT_ONCE, TURNS = 50, 20
HEADS = {**CHANGE, "Content-Type": "application/json"}


def deliveries(count: int) -> list[str]:
    """So many deliveries of new reports, as they are sent."""
    numbers = iter(range(1, count * AT_ONCE + 1))
    return [
        json.dumps(batch(*(item(next(numbers)) for _ in range(AT_ONCE)))) for _ in range(count)
    ]


def hand_in(client: FlaskClient, content: str) -> None:
    answer = client.post("/api/outbox", data=content, headers=HEADS).get_json()
    assert {one["result"] for one in answer["results"]} == {"created"}


def one_by_one(client: FlaskClient, content: str) -> None:
    with mock.patch.object(service, "_take_together", lambda *_: {}):
        hand_in(client, content)


def validate(content: str) -> None:
    schema = service.KINDS["report"].schema
    for raw in json.loads(content)["items"]:
        schema.load(raw)


def name(content: str) -> None:
    for raw in json.loads(content)["items"]:
        service.fingerprint(raw)


def bare(file: sqlite3.Connection, content: str) -> None:
    rows = [(raw["id"], json.dumps(raw)) for raw in json.loads(content)["items"]]
    file.execute("BEGIN IMMEDIATE")
    file.executemany("INSERT INTO bare VALUES (?, ?)", rows)
    file.execute("COMMIT")


def main() -> None:
    """Measure all five by turns and print the middle of each."""
    turns = int(sys.argv[1]) if len(sys.argv) > 1 else TURNS
    with tempfile.TemporaryDirectory() as folder:
        app = create_app({"DATA": Path(folder) / "data", "DEMO": True})
        prepare.migrate(app)
        client = app.test_client()
        client.get("/")
        place = Path(folder) / "bare.sqlite3"
        with closing(sqlite3.connect(place, isolation_level=None)) as file:
            file.execute("PRAGMA journal_mode=WAL")
            file.execute("PRAGMA synchronous=FULL")
            file.execute("CREATE TABLE bare (id TEXT PRIMARY KEY, item TEXT)")
            kinds: dict[str, Callable[[str], None]] = {
                "together": lambda content: hand_in(client, content),
                "one by one": lambda content: one_by_one(client, content),
                "validation": validate,
                "fingerprint": name,
                "bare store": lambda content: bare(file, content),
            }
            show(measured(kinds, turns))


def measured(kinds: dict[str, Callable[[str], None]], turns: int) -> dict[str, float]:
    """The middle of each kind's time for one report [s]; the first turn warms up."""
    took: dict[str, list[float]] = {kind: [] for kind in kinds}
    ready = iter(deliveries((turns + 1) * len(kinds)))
    for turn in range(turns + 1):
        for kind, work in kinds.items():
            content, began = next(ready), perf_counter()
            work(content)
            if turn:
                took[kind].append((perf_counter() - began) / AT_ONCE)
    return {kind: median(some) for kind, some in took.items()}


def show(found: dict[str, float]) -> None:
    whole = found["together"]
    print(f"one by one : together      {found['one by one'] / whole:6.1f}")
    for part in ("validation", "fingerprint", "bare store"):
        print(f"{part:11} of together    {found[part] / whole * 100:5.0f} %")
    for kind, seconds in found.items():
        print(f"{kind:11} {seconds * 1000:7.3f} ms a report here, now")


if __name__ == "__main__":
    main()
