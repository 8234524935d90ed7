"""Tests of the rule of clearing can fail: each small mistake in the rule is found."""

from __future__ import annotations

import sys
from collections.abc import Iterator
from pathlib import Path
from types import ModuleType
from typing import Any

import pytest

from tests.support.mutants import of_python
from tests.webapp.warnings import test_clearing as proof

RULE = proof.clearing
# No outcome differs: nothing writes into these, and at that moment both give the same time.
SAME = ("@dataclass(frozen=True)", "return latest + rule.quiet if latest < ")
# Found by the tests of the settings and of the desk, which need a server.
ELSEWHERE = ('str(config["CLEARING_',)
TESTS = (
    proof.test_the_rule_step_by_step,
    proof.test_a_new_reportable_report_begins_all_of_it_again,
    proof.test_a_dead_end_platform_only_after_treatment,
    proof.test_a_company_may_set_the_rule,
    proof.test_a_check_tells_when_it_was_met_or_will_be,
    proof.test_the_last_years_of_a_clock_do_not_break_the_rule,
)


def cases(test: Any) -> Iterator[dict[str, Any]]:
    """Give the arguments of a test, one set a case."""
    marks = [mark for mark in getattr(test, "pytestmark", []) if mark.name == "parametrize"]
    if not marks:
        yield {}
        return
    names, rows = marks[0].args
    for row in rows:
        yield dict(zip(names, row, strict=True))


def loaded(text: str) -> ModuleType:
    """Load the rule from a text, as a module of its own."""
    module = ModuleType("mutant_of_clearing")
    sys.modules[module.__name__] = module
    exec(compile(text, "mutant", "exec"), module.__dict__)
    return module


def passes() -> bool:
    """Tell whether all tests of the rule pass."""
    try:
        for test in TESTS:
            for given in cases(test):
                test(**given)
    except Exception:  # a mistake may also make it stop
        return False
    return True


def test_every_small_mistake_is_found(monkeypatch: pytest.MonkeyPatch) -> None:
    assert passes()
    survived = []
    for mutant in of_python(Path(str(RULE.__file__)).read_text("utf-8")):
        module = loaded(mutant.text)
        monkeypatch.setattr(proof, "assess", module.assess)
        monkeypatch.setattr(proof, "Rule", module.Rule)
        monkeypatch.setattr(proof, "RULE", module.Rule())
        if passes() and not mutant.line.startswith((*SAME, *ELSEWHERE)):
            survived.append(mutant.name)
    assert survived == []
