"""Hold a whole database against itself: structure, references, pack files, rows."""

from __future__ import annotations

import gzip
import hashlib
import json
import zlib
from collections.abc import Iterator

from sqlalchemy import Connection, func, inspect, select, table, text

from webapp.store.archive import Rows

PACKS_AT_ONCE = 50


class Damaged(Exception):
    """The database is not what it should be; each fault is a sentence."""


def check(connection: Connection) -> Rows:
    """Return the revision of the tables and how many rows each holds.

    Raises
    ------
    Damaged
        With every kind of fault that was found.
    """
    inside = set(inspect(connection).get_table_names())
    if "alembic_version" not in inside:
        raise Damaged("it holds no tables of Step in Hand.")
    faults = []
    if connection.dialect.name == "sqlite":
        faults += _sqlite_faults(connection)
    if "pack_file" in inside:
        faults += _pack_faults(connection)
    if faults:
        raise Damaged(" ".join(faults))
    revision = str(connection.scalar(text("SELECT version_num FROM alembic_version")))
    return Rows(revision, counts(connection, inside))


def counts(connection: Connection, tables: set[str]) -> dict[str, int]:
    """Return the number of rows of each table."""
    ask = {name: select(func.count()).select_from(table(name)) for name in sorted(tables)}
    return {name: int(connection.scalar(query) or 0) for name, query in ask.items()}


def _sqlite_faults(connection: Connection) -> list[str]:
    said = [str(row[0]) for row in connection.execute(text("PRAGMA integrity_check"))]
    faults = [] if said == ["ok"] else [f"integrity_check: {'; '.join(said[:3])}."]
    for row in connection.execute(text("PRAGMA foreign_key_check")).fetchmany(3):
        faults.append(f"a row of {row[0]} names one of {row[2]} that is not there.")
    return faults


def _pack_faults(connection: Connection) -> Iterator[str]:
    """Name pack files whose bytes are not their name, and files that an index misses."""
    query = text("SELECT sha, size, gz FROM pack_file")
    there = set()
    for sha, size, packed in connection.execute(
        query.execution_options(yield_per=PACKS_AT_ONCE)
    ):
        there.add(sha)
        try:
            plain = gzip.decompress(packed)
        except (OSError, EOFError, zlib.error):
            plain = b""
        if hashlib.sha256(plain).hexdigest() != sha or len(plain) != size:
            yield f"the pack file {sha[:12]} is damaged."
    for sha in sorted(_named(connection) - there):
        yield f"the pack file {sha[:12]} is missing."


def _named(connection: Connection) -> set[str]:
    """Return the manifests that the newest index names, and their files."""
    newest = text("SELECT routes FROM index_rev ORDER BY serial DESC LIMIT 1")
    routes = connection.scalar(newest) or []
    packs = json.loads(routes) if isinstance(routes, str) else routes
    found = {str(route["pack"]) for route in packs}
    query = text("SELECT gz FROM pack_file WHERE sha = :sha")
    for sha in list(found):
        packed = connection.scalar(query, {"sha": sha})
        manifest = json.loads(gzip.decompress(packed)) if packed else {"files": []}
        found |= {str(file["sha256"]) for file in manifest["files"]}
    return found
