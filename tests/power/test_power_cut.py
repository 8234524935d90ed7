"""R70: the power fails; what the depot had acknowledged is there, on SQLite in its own folder.

The app's own server on a file system that forgets what was not synced. Once the plug is
pulled for good and the server started again on what is left; then every moment of a series of
reports, of publishing and of the server's first start is looked at as a cut would leave it.
"""

from __future__ import annotations

import http.client
import json
import sqlite3
import subprocess
import sys
from collections.abc import Iterator
from contextlib import closing, contextmanager
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import pytest

from tests.support.power import Disk, forgetful_disk, why_not
from tests.support.reports import CHANGE, batch, item
from tests.support.server import Server
from webapp.publish.keys import KeyFile
from webapp.tablet.build import BUILD_DIGITS, read_kept

SUPPORT = Path(__file__).parents[1] / "support"
DATABASE = "step-in-hand.sqlite3"
CARELESS = [sys.executable, str(SUPPORT / "careless_server.py")]


@pytest.fixture
def disk(request: pytest.FixtureRequest, tmp_path: Path) -> Iterator[Disk]:
    if request.config.getoption("--no-power-cut"):
        pytest.skip("--no-power-cut was given")
    lacking = why_not()
    if lacking:
        pytest.fail(f"{lacking}, or leave these tests out with --no-power-cut")
    with forgetful_disk(tmp_path / "disk") as mounted:
        yield mounted


@contextmanager
def depot(disk: Disk, command: list[str] | None = None, **env: str) -> Iterator[Server]:
    """The server with its data folder on the forgetful disk, tables made and synced."""
    root = {"PYTHONPATH": str(SUPPORT.parents[1])}
    server = Server(disk.path / "data", command=command, env=root | env)
    server.log_path = disk.path.parent / "server.log"
    try:
        server.start()
        disk.sync()
        yield server
    finally:
        server.kill()


def post(server: Server, tablet: str, *items: dict[str, Any]) -> list[dict[str, Any]]:
    connection = http.client.HTTPConnection("127.0.0.1", server.port, timeout=30)
    with closing(connection):
        heads = {**CHANGE, "Content-Type": "application/json", "Cookie": tablet}
        connection.request("POST", "/api/outbox", json.dumps(batch(*items)), heads)
        answer = connection.getresponse()
        assert answer.status == 200, answer.read()
        results: list[dict[str, Any]] = json.loads(answer.read())["results"]
        return results


def there(database: Path) -> set[str]:
    """The ids of all reports of a database that passes its own check."""
    with closing(sqlite3.connect(database)) as file:
        assert file.execute("PRAGMA integrity_check").fetchall() == [("ok",)]
        return {row[0] for row in file.execute("SELECT id FROM report")}


def plain(items: list[dict[str, Any]]) -> set[str]:
    return {one["id"].replace("-", "") for one in items}


@pytest.mark.parametrize(
    ("reports", "how"), [(1, "none"), (7, "names"), (40, "none"), (40, "some")]
)
def test_r70_what_was_acknowledged_is_there(
    disk: Disk, tmp_path: Path, reports: int, how: str
) -> None:
    sent = [item(seq) for seq in range(1, reports + 1)]
    with depot(disk) as server:
        tablet = server.tablet()
        answers = [result for one in sent for result in post(server, tablet, one)]
        disk.cut(how, seed=reports)
    assert {answer["result"] for answer in answers} == {"created"}
    assert there(disk.store / "data" / DATABASE) == plain(sent)
    with Server(disk.store / "data") as again:
        repeated = post(again, tablet, *sent)
        assert again.count() == reports
    assert [one["result"] for one in repeated] == ["duplicate"] * reports
    known = ("id", "server_no", "received_at")
    assert [[one[key] for key in known] for one in repeated] == [
        [one[key] for key in known] for one in answers
    ]


@pytest.mark.parametrize("care", ["NORMAL", "OFF"])
def test_r70_with_less_care_the_same_cut_loses_reports(disk: Disk, care: str) -> None:
    """The control: this disk does forget, and it is the pragma that keeps the promise."""
    sent = [item(seq) for seq in range(1, 8)]
    with depot(disk, CARELESS, CARE=care) as server:
        tablet = server.tablet()
        for one in sent:
            assert post(server, tablet, one)[0]["result"] == "created"
        disk.cut("none")
    assert there(disk.store / "data" / DATABASE) < plain(sent)


def test_r70_at_every_moment_of_reports_and_of_a_batch(disk: Disk) -> None:
    one_by_one = [item(seq) for seq in range(1, 4)]
    together = [item(seq) for seq in range(4, 24)]
    acknowledged: list[tuple[int, set[str]]] = [(0, set())]
    with depot(disk) as server:
        tablet = server.tablet()
        moments = disk.watch()
        for part in ([one_by_one[0]], [one_by_one[1]], [one_by_one[2]], together):
            post(server, tablet, *part)
            acknowledged.append((disk.changes(), acknowledged[-1][1] | plain(part)))
    cuts = sorted(moments.iterdir())
    assert len(cuts) > 30, "many moments in three ways each"
    for cut in cuts:
        found = there(cut / "data" / DATABASE)
        change = int(cut.name.partition("-")[0])
        assert found >= max(ids for at, ids in acknowledged if at <= change), cut.name
        assert found <= plain([*one_by_one, *together])


PUBLISH = """
import sys
from datetime import UTC, datetime
from pathlib import Path
from tests.support import fake_pack
from webapp import create_app
from webapp.store.db import writing
from webapp.publish import service
app = create_app({"DATA": Path(sys.argv[1]), "DEMO": True})
for words in sys.stdin:
    with app.app_context(), writing() as session:
        pack = fake_pack.pack(words=words.strip())
        index = service.publish(session, pack, datetime.now(UTC))
    print(index.serial, flush=True)
"""


def published(database: Path) -> int:
    """The newest serial; every pack it names is there, whole."""
    with closing(sqlite3.connect(database)) as file:
        assert file.execute("PRAGMA integrity_check").fetchall() == [("ok",)]
        rows = file.execute("SELECT serial, routes FROM index_rev ORDER BY serial").fetchall()
        for _, routes in rows:
            for route in json.loads(routes):
                (found,) = file.execute(
                    "SELECT count(*) FROM pack_file WHERE sha = ?", [route["pack"]]
                ).fetchone()
                assert found == 1
    return rows[-1][0] if rows else 0


def test_r70_at_every_moment_of_publishing(disk: Disk) -> None:
    with depot(disk) as server:
        server.stop()
        disk.sync()
        publisher = subprocess.Popen(
            [sys.executable, "-c", PUBLISH, str(server.data)],
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            text=True,
        )
        with publisher:
            assert publisher.stdin and publisher.stdout
            told = [(0, 0)]
            moments = disk.watch()
            for words in ("first", "second", "third"):
                publisher.stdin.write(f"{words}\n")
                publisher.stdin.flush()
                serial = int(publisher.stdout.readline())
                told.append((disk.changes(), serial))
            publisher.stdin.close()
    assert [serial for _, serial in told] == [0, 1, 2, 3]
    cuts = list(moments.iterdir())
    assert len(cuts) > 30
    for cut in cuts:
        change = int(cut.name.partition("-")[0])
        serial = published(cut / "data" / DATABASE)
        assert serial >= max(serial for at, serial in told if at <= change), cut.name


def test_r70_at_every_moment_of_the_first_start(disk: Disk) -> None:
    """A build of the app on disk is whole or absent, and the server starts from any cut."""
    moments = disk.watch()
    with depot(disk) as server:
        server.stop()
    cuts = sorted(moments.iterdir(), key=lambda cut: int(cut.name.partition("-")[0]))
    builds = 0
    for cut in cuts:
        for build in (cut / "data" / "builds").glob("?" * BUILD_DIGITS):
            assert read_kept(build).id == build.name, cut.name
            builds += 1
    assert builds > 0
    for cut in cuts[:: len(cuts) // 3]:
        with Server(cut / "data") as again:
            assert post(again, again.tablet(), item())[0]["result"] == "created"


def test_r70_at_every_moment_of_making_and_renewing_the_signing_key(disk: Disk) -> None:
    """The key is whole or not there; what was given out is there, or what follows it."""
    data = disk.path / "data"
    data.mkdir()
    disk.sync()
    moments = disk.watch()
    keys = KeyFile(data)
    first = keys.make(datetime.now(UTC)).id
    made = disk.changes()
    second = keys.renew(datetime.now(UTC)).id
    renewed = disk.changes()
    data.joinpath("after").touch()  # one more moment, after the last answer
    cuts = list(moments.iterdir())
    assert len(cuts) > 30
    seen = set()
    for cut in cuts:
        change = int(cut.name.partition("-")[0])
        key = KeyFile(cut / "data").load()
        seen.add(key and key.id)
        if change >= renewed:
            assert key and key.id == second, cut.name
        elif change >= made:
            assert key and key.follows(first), cut.name
    assert seen == {None, first, second}, "cuts before, between and after"
