"""R66: any order of saves, edits, faults, kills and clock jumps loses and doubles nothing.

A short run with a fixed seed belongs to every test run; the long one is
`pytest tests/machine --machine-examples=2000`.
"""

from __future__ import annotations

from collections import Counter
from typing import Any

import pytest
from hypothesis import HealthCheck, settings
from hypothesis.stateful import run_state_machine_as_test

from tests.machine.depot import Depot
from tests.machine.machine import FATES, OutboxMachine
from tests.machine.tablet import Tablet
from tests.machine.windows import WindowsMachine

SHORT = 40
#: Hypothesis takes constants of our own code for values to try, so any change of any file
#: may turn a rare fate out of forty examples: then forty more, of another seed.
ROUNDS = 5
STEPS = 40
#: What even the short run must come upon, else it proves nothing.
SURELY = {"saved", "edited in place", "taken", "answer lost", "server killed"}


def run(
    tablet: Tablet, depot: Depot, examples: int, seed: int | None, **how: Any
) -> dict[str, int]:
    """Let the outbox's machine run; return how often it came upon what."""
    return run_machine(
        OutboxMachine, {"tablet": tablet, "depot": depot}, examples, seed, STEPS, **how
    )


def run_machine(
    of: type[WindowsMachine],
    given: dict[str, Any],
    examples: int,
    seed: int | None,
    steps: int,
    **how: Any,
) -> dict[str, int]:
    """Let a machine run with what it is given; return how often it came upon what."""
    members: dict[str, Any] = {**given, "seen": {}}
    # What `hypothesis.seed` would set, if there were a function to decorate.
    members["_hypothesis_internal_use_seed"] = seed
    machine = type("Run", (of,), members)
    options: dict[str, Any] = {
        "max_examples": examples,
        "stateful_step_count": steps,
        "deadline": None,
        "database": None,
        "suppress_health_check": list(HealthCheck),
        **how,
    }
    run_state_machine_as_test(machine, settings=settings(**options))
    return dict(members["seen"])


def test_r66_nothing_is_lost_and_nothing_counts_twice(
    tablet: Tablet, depot: Depot, pytestconfig: pytest.Config
) -> None:
    """R1 R3 R4 R6 R16 R17 R20 R26 R29 R66 with every fault, on both stores."""
    examples = pytestconfig.getoption("--machine-examples")
    expected = {"saved", *FATES} if examples else SURELY
    seen: Counter[str] = Counter()
    for seed in [None] if examples else range(ROUNDS):
        seen.update(run(tablet, depot, examples or SHORT, seed))
        if expected <= set(seen):
            break
    print(dict(sorted(seen.items())))
    assert expected <= set(seen), f"the machine never came upon {expected - set(seen)}"
