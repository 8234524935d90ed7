"""Pytest plugin: with CI=true in the environment, a skipped test fails the run."""

import os
from typing import Any

import pytest

# None of pytest's own: a second try of what failed must not make this good.
SKIPPED = 20
skipped: list[str] = []


def _note(report: pytest.CollectReport | pytest.TestReport) -> None:
    if report.skipped and not hasattr(report, "wasxfail"):
        skipped.append(report.nodeid)


def pytest_runtest_logreport(report: pytest.TestReport) -> None:
    """Remember a test that was skipped."""
    _note(report)


def pytest_collectreport(report: pytest.CollectReport) -> None:
    """Remember a module that was skipped whole."""
    _note(report)


@pytest.hookimpl(optionalhook=True)
def pytest_testnodedown(node: Any) -> None:
    """Take over what a process of pytest-xdist skipped: whole modules are known only there."""
    skipped.extend(set(getattr(node, "workeroutput", {}).get("skipped", [])) - set(skipped))


def pytest_sessionfinish(session: pytest.Session) -> None:
    """Turn a run that only looks green into a failed one."""
    if hasattr(session.config, "workeroutput"):
        session.config.workeroutput["skipped"] = skipped
        return
    if skipped and os.environ.get("CI") == "true" and session.exitstatus in (0, 1):
        session.exitstatus = SKIPPED


def pytest_terminal_summary(terminalreporter: pytest.TerminalReporter) -> None:
    """Name what was skipped."""
    if skipped and os.environ.get("CI") == "true":
        terminalreporter.section("skipped, which CI=true forbids")
        terminalreporter.write_line("\n".join(skipped))
