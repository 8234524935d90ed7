"""Keep what one release of the server held and answered, as the next ones must find it.

    git worktree add /tmp/released COMMIT
    python -m tests.golden.make_server /tmp/released tests/golden/server_vN

Runs the checkout's own app and server: `requests.json` (what its app sent and was answered),
`sqlite.sql` and `postgres.sql` (its database afterwards). Made once at a release, then never
changed. It needs deno and PostgreSQL, with pg_dump.
"""

from __future__ import annotations

import json
import os
import shutil
import sqlite3
import subprocess
import sys
import tempfile
from contextlib import closing
from pathlib import Path

from sqlalchemy.engine import make_url

from tests.support.postgres import running_postgres

HERE = Path(__file__).parent
# Settings of the session that pg_dump ran in, and commands of psql: not part of the data.
NOT_DATA = ("SET ", "\\", "SELECT pg_catalog.set_config", "--")
ANSWER = """
import json, sys
from pathlib import Path
import flask_migrate
from webapp import create_app
url, data, sent = sys.argv[1] or None, Path(sys.argv[2]), json.loads(sys.argv[3])
app = create_app({"DATA": data, "DATABASE_URL": url, "DEMO": True})
with app.app_context():
    flask_migrate.upgrade()
tablet = app.test_client()
assert tablet.get("/").status_code == 200
heads = {"X-Step-In-Hand": "1", "Content-Type": "application/json"}
answers = [tablet.post("/api/outbox", data=body, headers=heads) for body in sent]
assert {answer.status_code for answer in answers} == {200}
cookie = tablet.get_cookie("sih-tablet").value
print(json.dumps({"cookie": cookie, "answers": [answer.get_json() for answer in answers]}))
"""


def main(checkout: Path, into: Path) -> None:
    into.mkdir(parents=True, exist_ok=True)
    deno = str(Path(sys.executable).with_name("deno"))
    static = checkout.resolve() / "static"
    sent = json.loads(_run(deno, "run", "--allow-read", str(HERE / "sent_by.js"), str(static)))
    made = {"sent": sent}
    with tempfile.TemporaryDirectory() as folder:
        data = Path(folder) / "data"
        made["sqlite"] = _answers(checkout, "", data, sent)
        with closing(sqlite3.connect(data / "step-in-hand.sqlite3")) as file:
            (into / "sqlite.sql").write_text("\n".join(file.iterdump()) + "\n")
        with running_postgres() as url:
            assert url is not None, "no PostgreSQL"
            made["postgres"] = _answers(checkout, url, Path(folder) / "other", sent)
            (into / "postgres.sql").write_text(_pg_dump(url))
    (into / "requests.json").write_text(json.dumps(made, indent=1, ensure_ascii=False) + "\n")


def _answers(checkout: Path, url: str, data: Path, sent: list[str]) -> object:
    said = _run(
        *(sys.executable, "-c", ANSWER, url, str(data), json.dumps(sent)),
        env={**os.environ, "PYTHONPATH": str(checkout.resolve())},
        cwd=checkout,  # "python -c" looks for modules there first
    )
    return json.loads(said.splitlines()[-1])


def _pg_dump(url: str) -> str:
    found = sorted(Path("/usr/lib/postgresql").glob("*/bin/pg_dump"))
    program = str(found[-1]) if found else shutil.which("pg_dump")
    assert program, "no pg_dump"
    plain = make_url(url).set(drivername="postgresql").render_as_string(hide_password=False)
    text = _run(program, "--no-owner", "--no-privileges", "--inserts", plain)
    lines = [line for line in text.splitlines() if line and not line.startswith(NOT_DATA)]
    return "\n".join(lines) + "\n"


def _run(*command: str, env: dict[str, str] | None = None, cwd: Path | None = None) -> str:
    done = subprocess.run(
        command, capture_output=True, text=True, check=False, env=env, cwd=cwd
    )
    assert done.returncode == 0, done.stdout + done.stderr
    return done.stdout


if __name__ == "__main__":
    main(Path(sys.argv[1]), Path(sys.argv[2]))
