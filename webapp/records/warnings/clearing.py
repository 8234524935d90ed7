"""When a warning counts as cleared: the rule, in this one place, and its settings.

The signaller ends special working; the desk mirrors it. What the desk was told is held
against the company's rule, and where a step is missing the desk asks. Nothing here ends a
warning or reads a clock: times that were told are compared.

1. Inspected, or treated, or so many minutes gone since the latest reportable report. A new
   reportable report, and a test stop that was reportable, begin all of it again.
2. Where the stretch reaches a dead-end platform: treated; no other way counts there.
3. Then a controlled test stop that was not reportable.

Sources: OPERATIONS of this project, section 6, numbers 1 and 3; the 30 minutes and that a new
report starts them again are common practice, no source. All of it is a company's setting.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Any, Protocol

from webapp.plain.fields import LATEST

INSPECTED, TREATED, TEST_STOP = "inspected", "treated", "test stop"
KINDS = (INSPECTED, TREATED, TEST_STOP)
GOOD, EXPECTED, REPORTABLE = "good", "expected", "reportable"
RESULTS = (GOOD, EXPECTED, REPORTABLE)


@dataclass(frozen=True)
class Rule:
    """A company's settings of the rule."""

    quiet: timedelta = timedelta(minutes=30)
    test_stop: bool = True
    buffers_treated: bool = True

    @classmethod
    def of(cls, config: Mapping[str, Any]) -> Rule:
        """Read the settings `CLEARING_*`, checked when the server started."""
        return cls(
            timedelta(minutes=int(config["CLEARING_MINUTES"])),
            str(config["CLEARING_TEST_STOP"]) == "1",
            str(config["CLEARING_BUFFERS_TREATED"]) == "1",
        )


class Step(Protocol):
    """A step of clearing as it was told."""

    @property
    def kind(self) -> str: ...
    @property
    def result(self) -> str | None: ...
    @property
    def told_at(self) -> datetime: ...


@dataclass(frozen=True)
class Check:
    """One part of the rule: whether what was told meets it; times for the page to write."""

    words: str
    met: bool
    at: datetime | None = None


@dataclass(frozen=True)
class Clearing:
    """How far clearing has come by what was told."""

    latest: datetime
    asked_from: datetime | None
    treated: bool
    checks: list[Check]

    @property
    def missing(self) -> list[Check]:
        return [check for check in self.checks if not check.met]


def assess(
    rule: Rule,
    opened_at: datetime,
    reported: Sequence[datetime],
    steps: Sequence[Step],
    *,
    buffers: bool,
    ended_at: datetime,
) -> Clearing:
    """Hold what was told against the rule.

    Parameters
    ----------
    opened_at
        When the special working began.
    reported
        Times of reportable reports from the stretch.
    buffers
        Whether the stretch reaches a dead-end platform.
    ended_at
        When the signaller said that it ended; where a page only looks, the time of looking.
    """
    failed = [one.told_at for one in steps if _is(one, TEST_STOP) and one.result == REPORTABLE]
    latest = max([opened_at, *reported, *failed])
    since = [one for one in steps if one.told_at >= latest]
    treated = sorted(one.told_at for one in since if _is(one, TREATED))
    looked = sorted(one.told_at for one in since if _is(one, INSPECTED))
    only_treated = buffers and rule.buffers_treated
    ways = treated if only_treated else [*treated, *looked, _quiet_from(rule, latest)]
    first = min(ways) if ways else None
    passed = [
        one.told_at
        for one in since
        if _is(one, TEST_STOP) and one.result != REPORTABLE and first and one.told_at >= first
    ]
    moment = max([*passed, ended_at])
    checks = [_opened(rule, latest, [*treated, *looked], moment)]
    if only_treated:
        checks.append(_treated(treated))
    if rule.test_stop:
        checks.append(_tested(passed, first))
    return Clearing(latest, first, bool(treated), checks)


def _is(step: Step, kind: str) -> bool:
    return step.kind == kind


def _opened(rule: Rule, latest: datetime, done: list[datetime], moment: datetime) -> Check:
    if done:
        return Check(
            "inspected or treated since the latest reportable report", True, min(done)
        )
    minutes = int(rule.quiet.total_seconds() // 60)
    words = f"inspected, or treated, or {minutes} minutes since the latest reportable report"
    quiet_from = _quiet_from(rule, latest)
    return Check(words, moment >= quiet_from, quiet_from)


def _quiet_from(rule: Rule, latest: datetime) -> datetime:
    """The moment from which it was quiet for long enough; a clock may say the year 9999."""
    return latest + rule.quiet if latest < LATEST - rule.quiet else LATEST


def _treated(treated: list[datetime]) -> Check:
    words = "treated: it reaches a dead-end platform"
    return Check(words, bool(treated), treated[0] if treated else None)


def _tested(passed: list[datetime], first: datetime | None) -> Check:
    words = "after that a controlled test stop that was not reportable"
    return Check(words, bool(passed), max(passed) if passed else first)
