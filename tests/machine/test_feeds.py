"""Whatever befalls questions and answers, the tablet holds what the depot told it.

A short run with fixed seeds belongs to every test run; the long one is
`pytest tests/machine --machine-examples=2000`.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator
from pathlib import Path

import pytest

from tests.machine.feed_depot import FeedDepot
from tests.machine.feeds import FATES, FeedsMachine
from tests.machine.tablet import Tablet
from tests.machine.test_machine import ROUNDS, run_machine

SHORT, STEPS = 10, 20
#: What even the short run must come upon, else it proves nothing.
SURELY = {"warn", "end", "publish", "withdraw", "put back", "whole sync", "late answer"}


@pytest.fixture
def feed_depot(tmp_path: Path, database_url: str | None) -> Iterator[FeedDepot]:
    one = FeedDepot(tmp_path, database_url)
    yield one
    one.close()


def test_warnings_and_packs_are_what_the_depot_told(
    tablet: Tablet, feed_depot: FeedDepot, pytestconfig: pytest.Config
) -> None:
    """R44 R46 R47 R49 R66: no fault, kill, other network or restore takes a living warning off
    a tablet, lets a number fall, or puts half a pack or another's index in use; both stores.
    """
    examples = pytestconfig.getoption("--machine-examples")
    expected = {*SURELY, *FATES} if examples else SURELY
    members = {"tablet": tablet, "depot": feed_depot}
    seen: Counter[str] = Counter()
    for seed in [None] if examples else range(1, ROUNDS):
        seen.update(run_machine(FeedsMachine, members, examples or SHORT, seed, STEPS))
        if expected <= set(seen):
            break
    print(dict(sorted(seen.items())))
    assert expected <= set(seen), f"the machine never came upon {expected - set(seen)}"
