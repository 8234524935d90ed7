"""A company's fixed words: written in words.toml, translated, never softened."""

from __future__ import annotations

import json
import shutil
import subprocess
import sys
from dataclasses import replace
from pathlib import Path

import pytest

from webapp.lines.advice import first_line
from webapp.packs.base_file import base_file
from webapp.packs.faults import RouteFaults
from webapp.packs.fixed_words import FIXED_WORDS, LONGEST, softened
from webapp.packs.model import Route
from webapp.packs.read import read_route
from webapp.packs.service import demo_routes

ROOT = Path(__file__).parents[3]
APP = """
import { words } from "./static/words/%s.js";
const { frame, card, warnings, report, slide } = words;
console.log(JSON.stringify({
  W1: frame.w1, W4: slide.w4, W5: warnings.w5("{time}"), W6: card.w6, W7: report.w7,
  W8: frame.w8, W9: frame.w9("{hours}", "{state}"), W10: report.w10,
}));
"""
WORDS = """
[en]
W5 = "Warnings held here {time}. Newer ones: control centre."
W6 = "No advice. Drive to the conditions."
[de]
W10 = "Türen nicht freigeben. Nicht fahren. Leitstelle."
"""


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    return Path(shutil.copytree(demo_routes()["orrin"], tmp_path / "orrin"))


@pytest.mark.parametrize("language", ["en", "de"])
def test_the_apps_own_words_pass_every_check(language: str) -> None:
    deno = str(Path(sys.executable).with_name("deno"))
    run = subprocess.run(
        [deno, "eval", "--ext=js", APP % language],
        **{"cwd": ROOT, "capture_output": True, "text": True, "check": True, "timeout": 60},
    )
    own = json.loads(run.stdout)
    assert own.keys() == LONGEST.keys()
    assert {
        code: softened(language, code, text) for code, text in own.items()
    } == dict.fromkeys(own)
    if language == "en":
        assert own == {code: FIXED_WORDS[code] for code in own}


@pytest.mark.parametrize(
    ("line", "says"),
    [
        ('W4 = "Sliding: hold the brake, then stop."', "W4 does not name 'EMERGENCY'"),
        ('W4 = "Sliding: hold. Not slowing: emergency, to a stand."', "'EMERGENCY'"),
        ('W5 = "Warnings held here. Newer ones: signaller."', "{time} is not in it once"),
        ('W6 = "Drive to the conditions."', "W6 does not name 'no advice'"),
        ('W6 = "No advice. The rail may be good."', "'may' softens it"),
        ('W6 = "No advice, safe to go on."', "'safe' softens it"),
        ('W8 = "Before you move: doors."', "W8 does not name 'signal'"),
        ('W9 = "Rail state old: planned as {state}."', "{hours} is not in it once"),
        ('W10 = "Please do not release doors."', "'please' softens it"),
        ('W1 = ""', "the cell is empty"),
        (f'W1 = "Signals first. {"x" * 40}"', "more than fit where it stands"),
        ('W2 = "Begin somewhere."', "'W2' is not known here"),
    ],
)
def test_a_softer_or_broken_word_is_refused_with_its_place(
    folder: Path, line: str, says: str
) -> None:
    (folder / "words.toml").write_text(f"[en]\n{line}\n", "utf-8")
    with pytest.raises(RouteFaults) as found:
        read_route(folder)
    [fault] = found.value.faults
    assert (fault.file, fault.row, fault.column) == ("words.toml", 2, f"en.{line.split()[0]}")
    assert says in str(fault) and fault.cure


def test_a_language_that_no_tablet_speaks_is_refused(folder: Path) -> None:
    (folder / "words.toml").write_text('[fr]\nW1 = "Signaux"\n', "utf-8")
    with pytest.raises(RouteFaults, match=r"the table \[fr\] is not known"):
        read_route(folder)


def base_of(route: Route) -> dict[str, object]:
    return base_file(replace(route, trips=(), listed=()), (), (), ())


def test_the_pack_carries_what_the_company_wrote_and_nothing_where_it_wrote_nothing(
    folder: Path,
) -> None:
    assert "signed_words" not in base_of(read_route(folder))
    (folder / "words.toml").write_text(WORDS, "utf-8")
    base = base_of(read_route(folder))
    assert base["words"]["W6"] == "No advice. Drive to the conditions."
    assert base["words"]["W1"] == FIXED_WORDS["W1"]
    assert base["signed_words"] == {
        "en": {
            "W5": "Warnings held here {time}. Newer ones: control centre.",
            "W6": "No advice. Drive to the conditions.",
        },
        "de": {"W10": "Türen nicht freigeben. Nicht fahren. Leitstelle."},
    }
    none = {"status": 2, "flags": 0, "mark": None}
    assert first_line(base, none, {}, {}) == "No advice. Drive to the conditions."
