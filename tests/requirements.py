"""Which tests show which numbered requirement of the offline loop, as a table.

`python -m tests.requirements` prints it, `--write` puts it into tests/REQUIREMENTS.md between
its two marks. A test is found by its number: `test_r46_...`, "R46" in a docstring, "r46" in
the title of a JavaScript test. Older tests without a number are named in `ALSO`.
"""

from __future__ import annotations

import re
import sys
from collections import defaultdict
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent
BEGIN, END = "<!-- requirements -->", "<!-- /requirements -->"
NUMBER = re.compile(r"(?<![A-Za-z0-9])[Rr](\d{1,2}[a-d]?)(?=[^A-Za-z0-9]|$)")
PYTHON_TEST = re.compile(r'^def (test_\w+)\(.*?\).*?:\n(?:\s+"""(.*?)""")?', re.S | re.M)
SCRIPT_TEST = re.compile(r'Deno\.test\("([^"]+)"')

# In the words of the requirement, shortened.
WHAT = {
    "1": "a row goes only after a parsed answer names it as stored; killed at every step",
    "2": "eleven answers that are none: the row stays",
    "3": "no expiry: +8 days, -8 days, +5 years",
    "4": "refused for good: visible with the reason until a person deals with it",
    "5": "count on screen equals the rows",
    "6": "any order of arrival, the same end",
    "7": "one flush at a time",
    "8": "back-off with jitter, Retry-After, reset by hand",
    "9": "without SyncManager everything is sent",
    "10": "each trigger of a flush alone",
    "11": "the words while reports are unsent",
    "12": "storage fails once: heals; for ever: never 'saved'",
    "13": "blocked upgrade: a page, then on by itself",
    "14": "strict, and 'saved' only on complete",
    "15": "upgrade from every released version keeps unsent rows",
    "16": "five windows and a worker, 50 reports, kills: 50 rows",
    "17": "the same without Web Locks",
    "18": "persist() asked, little room told before a download",
    "19": "not installed: told, and known at the desk",
    "20": "gaps and restarts of numbers shown at the desk",
    "21": "full: packs go first, then an honest error",
    "22": "no request to any other origin",
    "23": "one worker, no-cache, build inside; a missing file is 404",
    "24": "all files of a version or none",
    "25": "no switch under card, report or a moving train; way back",
    "26": "a draft's id is its report's, and no other has it",
    "26a": "online means the depot itself answered",
    "26b": "every request has a deadline; the lock is free again",
    "26c": "nothing depends on sendBeacon or keepalive",
    "26d": "ages from stored times at each paint",
    "27": "fifty threads, one report: one row, equal answers",
    "28": "same id, other content: refused, nothing overwritten",
    "29": "frozen after the first try; corrections are linked",
    "30": "one result for each item; limits of a batch",
    "31": "answer lost after commit",
    "32": "four times kept",
    "33": "wrong clocks flagged with both times",
    "34": "warnings and a wrong clock: the cautious reading",
    "35": "no conflict resolved by device time",
    "36": "old or vague position is unknown",
    "37": "a report's position is true or null",
    "38": "wake lock again after hide; notice when refused",
    "39": "enrolment inside the installed app",
    "40": "2xx only after COMMIT; nth statement fails",
    "41": "a header Idempotency-Key changes nothing: ids do it",
    "42": "problem+json for every error",
    "43": "numbers safe against out-of-order commits",
    "44": "warnings travel whole: an end is what is missing",
    "45": "strong ETag and 304; stale edits told",
    "46": "each pack file checked by hash; one flipped bit",
    "47": "atomic switch, stopped at each step",
    "48": "a cut download costs one file at most",
    "49": "signed index, pinned key, no way back",
    "50": "the pack before stays until the new one opened",
    "66": "state machine over everything",
    "67": "every bug found becomes a fixed scenario",
    "68": "SQLite set up safely on each connection",
    "69": "BEGIN IMMEDIATE: 8 threads, no lock error, exact count",
    "70": "power cut on a file system that forgets",
    "71": "the same on PostgreSQL",
    "72": "core in deno, Chromium, Firefox, WebKitGTK",
    "72b": "Schemathesis; backup and restore",
    "73": "letters by the arc they are seen under; nothing below 16 minutes",
    "74": "controls of 15 and 20 mm, 3 mm apart",
    "75": "letters 7 to 1, edges 3 to 1, in every light and state",
    "76": "night: dark in the mean, no bright frame at a start",
    "77": "no state by colour alone, for five eyes and forced colours",
    "78": "the card: no scroll, no touch, 25 words",
    "79": "the report in three taps, interrupted at every step",
    "81": "advice has an age and an end",
    "82": "unknown is shown as unknown",
    "83": "the same things in the same places",
    "84": "a tap is answered at once; twice is one",
}

# Tests from before the numbers, or without room for one.
ALSO: dict[str, tuple[str, ...]] = {
    "1": ("tests/static/outbox_test.js",),
    "2": ("tests/static/outbox_test.js",),
    "3": ("tests/static/outbox_test.js",),
    "4": ("tests/browser/test_report.py::test_a_refused_report_stays_and_can_be_corrected",),
    "7": ("tests/static/outbox_test.js",),
    "11": ("tests/browser/test_journey.py", "tests/static/report_test.js"),
    "14": ("tests/browser/test_report.py::test_saved_means_complete_and_on_disk",),
    "19": ("tests/browser/test_installed.py",),
    "22": (
        "tests/browser/test_app.py::test_the_app_is_installable_and_keeps_to_its_own_server",
    ),
    "26": (
        "tests/browser/test_drafts.py::test_a_draft_opened_in_a_second_window_is_one_report",
    ),
    "26a": (
        "tests/static/figures_test.js",
        "tests/browser/test_journey.py::test_captive_portal",
    ),
    "26b": ("tests/browser/test_journey.py::test_server_that_hangs",),
    "26d": ("tests/static/figures_test.js",),
    "35": (
        "tests/webapp/test_outbox.py::test_r30_any_order_of_arrival_leaves_the_same_reports",
    ),
    "37": ("tests/browser/test_trip_log.py",),
    "67": ("tests/static/outbox_test.js", "tests/browser/test_bad_luck.py"),
    "71": ("tests/conftest.py::database_url",),
}

# What is not shown, or not wholly, and why.
LEFT: dict[str, str] = {
    "66": "passes in `.ci/run` with 40 examples a store; installing packs and warnings are "
    "not rules of the machine, they have crash loops of their own (R44, R47)",
    "72": "passes in `.ci/run`; the list for a real iPad is by hand and has not been gone "
    "through: there was none",
}


def shown_by() -> dict[str, list[str]]:
    """Return for each number the tests that carry it, as `file::test` or `file`."""
    found: dict[str, list[str]] = defaultdict(list)
    for path in sorted((ROOT / "tests").rglob("*")):
        name = str(path.relative_to(ROOT))
        if path.name.startswith("test_") and path.suffix == ".py":
            for test, words in PYTHON_TEST.findall(path.read_text()):
                for number in set(NUMBER.findall(f"{test.removeprefix('test_')} {words}")):
                    found[number].append(f"{name}::{test}")
        elif path.name.endswith("_test.js"):
            titles = SCRIPT_TEST.findall(path.read_text())
            for number in {one for title in titles for one in NUMBER.findall(title)}:
                found[number].append(name)
    for number, more in ALSO.items():
        found[number] += [one for one in more if one not in found[number]]
    return found


def table() -> str:
    """Return the table in Markdown: at most three tests a row, the rest counted."""
    found = shown_by()
    lines = ["| | what | shown by | result |", "| --- | --- | --- | --- |"]
    lines += [row(number, what, found.get(number, [])) for number, what in WHAT.items()]
    return "\n".join(lines)


def row(number: str, what: str, tests: list[str]) -> str:
    shown = "<br>".join(f"`{one}`" for one in tests[:3])
    more = f"<br>and {len(tests) - 3} more" if len(tests) > 3 else ""
    result = LEFT.get(number) or ("passes in `.ci/run`" if tests else "NOT SHOWN")
    return f"| R{number} | {what} | {shown}{more} | {result} |"


def write() -> None:
    path = ROOT / "tests/REQUIREMENTS.md"
    text = path.read_text()
    before, rest = text.split(BEGIN)
    after = rest.split(END)[1]
    path.write_text(f"{before}{BEGIN}\n{table()}\n{END}{after}")


if __name__ == "__main__":
    if "--write" in sys.argv:
        write()
    else:
        print(table())
