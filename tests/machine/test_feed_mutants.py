"""The machine of warnings and packs can fail: each of these mistakes in a copy is found."""

from __future__ import annotations

from pathlib import Path

import pytest
from hypothesis import Phase
from hypothesis.errors import FlakyFailure

from tests.machine.feed_depot import FeedDepot
from tests.machine.feeds import FeedsMachine
from tests.machine.tablet import Tablet
from tests.machine.test_feeds import STEPS
from tests.machine.test_machine import run_machine
from tests.machine.test_mutants import mutated

HELD, ASK = "core/warnings.js", "data/ask-warnings.js"
INDEX, TAKE, SIGNED = "core/index-text.js", "data/take-packs.js", "data/verify.js"
INSTALL = "data/install.js"
MUTANTS: dict[str, list[tuple[str, str, str]]] = {
    "takes older warnings than it holds": [
        (HELD, "  if (!restored && page.feedNo < from.feedNo) return null;\n", ""),
    ],
    "drops what a restored depot forgot": [
        (HELD, "  if (restored) return { put: [", "  if (false) return { put: ["),
    ],
    "does not mark what a restored depot forgot": [
        (HELD, "({ ...one, heldBefore: true })", "({ ...one })"),
    ],
    "keeps what ended": [
        (ASK, "  for (const id of what.drop) await done(warnings.delete(id));\n", ""),
    ],
    "does not tell a restored depot what it holds": [
        (ASK, "  if (page.restored) await", "  if (false) await"),
    ],
    "does not say which warnings it holds": [
        (ASK, "held=${from.feedNo}&mark=${from.mark}&", ""),
    ],
    "puts a slower window's warnings in the place of newer ones": [
        (ASK, "now.feedNo !== from.feedNo || now.mark !== from.mark || ", ""),
    ],
    "takes an index whose signature does not fit": [
        (SIGNED, "  if (!(await fits(key, body))) throw", "  if (false) throw"),
    ],
    "lets the index's serial fall": [
        (TAKE, '    checkFollows((await done(kv.get("index"))) ?? null,', "    void (null,"),
    ],
    "is confirmed by whatever it is shown": [
        (TAKE, "  if (!older && proof?.index !== (await sha256(signed))) return;\n", ""),
    ],
    "chooses half a pack": [
        (INSTALL, "of manifest.files.entries()) {", "of manifest.files.slice(1).entries()) {"),
        (INSTALL, "    await checkInside(manifest);\n", ""),
        (
            INSTALL,
            "for (const sha of [held.sha, ...held.files.map((file) => file.sha256)])",
            "for (const sha of [held.sha])",
        ),
    ],
    "does not look at a file's bytes": [
        (INSTALL, "  if ((await sha256(bytes)) !== sha) throw", "  if (false) throw"),
    ],
    "puts a pack in use that was withdrawn meanwhile": [
        (INSTALL, "    if (!named) throw", "    if (false) throw"),
    ],
}  # fmt: skip


@pytest.mark.parametrize("name", MUTANTS)
def test_the_machine_finds_a_tablet_that(name: str, tmp_path: Path) -> None:
    tablet = Tablet(mutated(tmp_path / "copy", MUTANTS[name]))
    depot = FeedDepot(tmp_path / "depot", None)
    given = {"tablet": tablet, "depot": depot}
    try:
        with pytest.raises((AssertionError, FlakyFailure)) as found:
            for seed in range(10):
                how = {"phases": [Phase.generate], "report_multiple_bugs": False}
                run_machine(FeedsMachine, given, 12, seed, STEPS, **how)
    finally:
        tablet.close()
        depot.close()
    print(str(found.value)[:200])
