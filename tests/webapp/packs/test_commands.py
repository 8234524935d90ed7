"""``step-in-hand pack build`` and ``pack check`` as a route author meets them."""

from __future__ import annotations

import shutil
from pathlib import Path

import pytest
from click.testing import CliRunner

from webapp.commands import packs
from webapp.packs.abreast import Progress
from webapp.packs.build import build_route
from webapp.packs.files import Pack
from webapp.packs.model import Route
from webapp.packs.service import demo_routes


def run(*words: str):
    return CliRunner().invoke(packs.pack_commands, list(words))


def test_check_says_when_there_is_nothing_to_mend() -> None:
    result = run("check", "kettle-bay")
    assert result.exit_code == 0
    assert "no faults" in result.output


def test_check_lists_every_fault_and_exits_with_2(tmp_path: Path) -> None:
    folder = shutil.copytree(demo_routes()["orrin"], tmp_path / "mine")
    (folder / "trips.csv").unlink()
    result = run("check", str(folder))
    assert result.exit_code == 2
    assert "trips.csv: the file is missing. Cure: add trips.csv" in result.output
    assert "no pack" in result.output


def test_build_refuses_a_faulty_route_and_writes_nothing(tmp_path: Path) -> None:
    folder = shutil.copytree(demo_routes()["orrin"], tmp_path / "mine")
    (folder / "marks.csv").unlink()
    result = run("build", str(folder), "--out", str(tmp_path / "pack"))
    assert result.exit_code == 2
    assert not (tmp_path / "pack").exists()


def test_an_unknown_route_is_told_the_demo_routes() -> None:
    result = run("check", "nowhere")
    assert result.exit_code == 2
    assert "kettle-bay, orrin" in result.output


def test_build_writes_each_file_by_its_hash_and_shows_progress(
    tmp_path: Path, short: Route, monkeypatch: pytest.MonkeyPatch
) -> None:
    def build_short(folder: Path, progress: Progress | None = None) -> Pack:
        return build_route(short, progress)

    monkeypatch.setattr(packs, "build_pack", build_short)
    result = run("build", "kettle-bay", "--out", str(tmp_path))
    assert result.exit_code == 0, result.output
    assert "Up, towards Kettle Bay: 2 of 2 targets" in result.output
    names = {path.name for path in tmp_path.iterdir()}
    listed = {
        line.split()[0] + ".json.gz" for line in result.output.splitlines() if "  " in line
    }
    assert len(names) == 4 and listed == names
