"""The real server, which loses its life between the first COMMIT of a report and its answer.

`python killed_after_commit.py serve ...`: the fault is planted here, not in the server.
"""

from __future__ import annotations

import os
import signal
from pathlib import Path
from typing import Any

from sqlalchemy.engine.default import DefaultDialect

from webapp.commands.cli import main

commit = DefaultDialect.do_commit


def commit_and_die(self: DefaultDialect, connection: Any) -> None:
    """Let the real COMMIT return; if it carried a report, nothing runs after it."""
    tables = "SELECT name FROM sqlite_master WHERE name = 'report'"
    carries_report = (
        connection.execute(tables).fetchone()
        and connection.execute("SELECT count(*) FROM report").fetchone()[0]
    )
    commit(self, connection)
    spent = Path(os.environ["SPENT"])
    if carries_report and not spent.exists():
        spent.touch()
        os.kill(os.getpid(), signal.SIGKILL)


DefaultDialect.do_commit = commit_and_die  # type: ignore[method-assign]
main()
