"""The real application in process, which can be killed at any statement of its database."""

from __future__ import annotations

import json
import uuid
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

from sqlalchemy import event, select
from sqlalchemy.exc import OperationalError

from tests.support.reports import CHANGE
from webapp import create_app
from webapp.commands import prepare
from webapp.publish.declared import declare
from webapp.store.db import db, writing

Answer = dict[str, Any]


class KilledServer(BaseException):
    """What nothing in the application may catch and turn into an answer."""


class Depot:
    """Takes in what a tablet's outbox sends, and shows what it keeps."""

    def __init__(self, folder: Path, url: str | None) -> None:
        self._count = 0
        self._at: int | None = None
        self._error: type[BaseException] = KilledServer
        self.app = create_app({"DATA": folder / "data", "DATABASE_URL": url, "DEMO": True})
        prepare.migrate(self.app)
        with self.app.app_context():
            event.listen(db.engine, "before_cursor_execute", self._statement)
            event.listen(db.engine, "commit", self._commit)
        self._client = self.app.test_client()
        assert self._client.get("/").status_code == 200

    def close(self) -> None:
        with self.app.app_context():
            db.engine.dispose()

    def take(self, body: dict[str, Any]) -> Answer:
        """Answer as the network would bring it: status, type, text and the depot's mark."""
        answer = self._client.post("/api/outbox", json=body, headers=CHANGE)
        return {
            "status": answer.status_code,
            "type": answer.headers["Content-Type"],
            "text": answer.text,
            "retryAfter": answer.headers.get("Retry-After"),
            "ours": answer.headers.get("X-Step-In-Hand") == "1",
        }

    def take_and_die(self, body: dict[str, Any], at: int) -> Answer | None:
        """Kill the server at its nth statement (COMMIT is one); None: it died before."""
        self._count, self._at, self._error = 0, at, KilledServer
        try:
            return self.take(body)
        except KilledServer:
            with self.app.app_context():
                db.session.remove()
                db.engine.dispose()
            return None
        finally:
            self._at = None

    def take_and_fail(self, body: dict[str, Any], at: int) -> Answer:
        """The database fails at the nth statement; the server itself lives on."""
        self._count, self._at, self._error = 0, at, OperationalError
        try:
            return self.take(body)
        finally:
            self._at = None

    def items(self, installs: set[str]) -> list[dict[str, Any]]:
        """Every report kept from these installs, as it was sent."""
        if not installs:
            return []
        names = [uuid.UUID(one) for one in installs]
        with self.app.app_context(), db.engine.connect() as connection:
            table = db.metadata.tables["report"]
            query = table.select().where(table.c.install_id.in_(names))
            found = [dict(row._mapping) for row in connection.execute(query)]
        return [
            {"id": str(row["id"]), "seq": row["seq"], "install": str(row["install_id"])}
            | {"no": row["server_no"]}
            | {"item": row["item"], "supersedes": str(row["supersedes"] or "")}
            for row in found
        ]

    def put_back(self, installs: set[str], keep: int) -> set[str]:
        """Go back to the first reports of these installs, as an older copy; say which went."""
        kept = sorted(self.items(installs), key=lambda row: row["no"])
        gone = {row["id"] for row in kept[keep:]}
        report, words = (db.metadata.tables[name] for name in ("report", "report_words"))
        with self.app.app_context(), writing() as session:
            ids = [uuid.UUID(one) for one in gone]
            numbers = select(report.c.server_no).where(report.c.id.in_(ids))
            session.execute(words.delete().where(words.c.server_no.in_(numbers)))
            session.execute(report.delete().where(report.c.id.in_(ids)))
            declare(session, "a test", datetime.now(UTC), {}, numbers_known=True)
        return gone

    def says(self) -> dict[str, Any]:
        """Which history it is in, as a tablet is told."""
        return dict(self._client.get("/api/tablet").get_json()["depot"])

    def _statement(self, *_event: object) -> None:
        self._step()

    def _commit(self, _connection: object) -> None:
        self._step()

    def _step(self) -> None:
        if self._at is None:
            return
        self._count += 1
        if self._count == self._at:
            self._at = None
            if self._error is OperationalError:
                raise OperationalError("planted", {}, Exception("planted"))
            raise KilledServer


def foreign(status: int, body: Any) -> Answer:
    """JSON of some other server that speaks much like ours, but without its mark."""
    return {**ours(status, body), "ours": False}


def ours(status: int, body: Any, retry_after: str | None = None) -> Answer:
    kind = "application/json" if status < 400 else "application/problem+json"
    text = json.dumps(body)
    return {
        **{"status": status, "type": kind, "text": text},
        **{"retryAfter": retry_after, "ours": True},
    }


def page(status: int) -> Answer:
    text = "<html>Log in to this network</html>"
    return {
        **{"status": status, "type": "text/html", "text": text},
        **{"retryAfter": None, "ours": False},
    }
