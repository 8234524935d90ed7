"""Fixtures of the state machine: the tablet's program and the application on each store."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest

from tests.machine.depot import Depot
from tests.machine.tablet import Tablet


@pytest.fixture
def depot(tmp_path: Path, database_url: str | None) -> Iterator[Depot]:
    one = Depot(tmp_path, database_url)
    yield one
    one.close()


@pytest.fixture
def tablet() -> Iterator[Tablet]:
    one = Tablet()
    yield one
    one.close()
