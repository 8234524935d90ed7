"""The checks set out as text, for the terminal and, figure by figure, for the page."""

from __future__ import annotations

from collections.abc import Iterable

from webapp.pages.checks.checks import Check, Checks

#: Most digits shown; figures come here already rounded to those that matter.
DIGITS = 12


def figure(value: float) -> str:
    """Write a number as a person reads it: no exponent where digits will do."""
    if value == 0:
        return "0"
    text = f"{value:.{DIGITS}g}"
    if "e" in text and 1e-9 < abs(value) < 1e9:
        text = f"{value:.12f}".rstrip("0").rstrip(".")
    whole, dot, rest = text.partition(".")
    if len(whole.lstrip("-")) > 4 and whole.lstrip("-").isdigit():
        whole = f"{int(whole):,}"
    return (whole + dot + rest).replace("-", "\N{MINUS SIGN}")


def theirs(check: Check) -> str:
    low, high = check.band
    return figure(low) if low == high else f"{figure(low)} to {figure(high)}"


def difference(check: Check) -> str:
    """Write how far apart they are, with the share where that says something."""
    low, high = check.band
    if low != high:
        return "in the band" if check.error == 0 else figure(check.error)
    if check.error == 0 or low == 0:
        return figure(check.error)
    share = 100 * check.error / abs(low)
    return f"{figure(float(f'{check.error:.3g}'))} ({figure(float(f'{share:.2g}'))} %)"


def lines(checks: Checks) -> Iterable[str]:
    """Set the table out, one row in four lines that no terminal breaks apart."""
    for family in checks.families:
        yield ""
        yield family.name
        for check in family.checks:
            yield from _row(check)
    yield ""
    yield summary(checks)


def summary(checks: Checks) -> str:
    seen = ", ".join(f"{count} {status}" for status, _, count in checks.by_status if count)
    held = checks.count - checks.failing
    return f"{held} of {checks.count} checks hold, against {checks.sources} sources: {seen}."


def _row(check: Check) -> Iterable[str]:
    unit = f" {check.unit}" if check.unit else ""
    yield f"  {'holds' if check.holds else 'FAILS'}  {check.what}"
    yield (
        f"         theirs {theirs(check)}{unit} | ours {figure(check.ours)}{unit} | "
        f"error {difference(check)} | within {figure(check.within)} | {check.status}"
    )
    yield f"         why: {check.why}"
    yield f"         source: {check.source}; {check.address}"
