"""The locked versions: what is installed is what was tested, file by file."""

import re
import tomllib
from pathlib import Path

import pytest
from packaging.markers import default_environment
from packaging.requirements import Requirement

ROOT = Path(__file__).resolve().parent.parent
CURE = "Type: bash .ci/renew"


def locked(name: str) -> list[tuple[Requirement, int]]:
    """Return each requirement of a lock file, and how many hashes it has."""
    text = (ROOT / f".ci/lock/{name}.txt").read_text("utf-8").replace("\\\n", " ")
    lines = [line for line in text.splitlines() if line.strip() and not line.startswith("#")]
    return [
        (Requirement(re.split(r"\s--hash", line)[0]), line.count("--hash=sha256:"))
        for line in lines
    ]


def asked(name: str) -> list[Requirement]:
    """Return what pyproject.toml asks for."""
    project = tomllib.loads((ROOT / "pyproject.toml").read_text("utf-8"))
    extra = project["project"]["optional-dependencies"]["test"] if name == "test" else []
    lines = project["project"]["dependencies"] + project["build-system"]["requires"] + extra
    return [Requirement(line) for line in lines]


@pytest.mark.parametrize("name", ["demo", "test"])
def test_every_range_of_the_project_has_a_locked_version(name: str) -> None:
    versions: dict[str, list[str]] = {}
    for one, _ in locked(name):
        versions.setdefault(one.name, []).extend(spec.version for spec in one.specifier)
    for wish in asked(name):
        found = versions.get(wish.name.lower(), [])
        assert found, (
            f"{wish.name} of pyproject.toml is in no line of .ci/lock/{name}.txt. {CURE}"
        )
        outside = [one for one in found if not wish.specifier.contains(one, prereleases=True)]
        assert not outside, f"{wish.name} {outside} is outside {wish.specifier}. {CURE}"


@pytest.mark.parametrize("name", ["demo", "test"])
def test_every_locked_version_is_exact_and_has_hashes(name: str) -> None:
    for one, hashes in locked(name):
        assert [spec.operator for spec in one.specifier] == ["=="], (
            f"{one} is not exact. {CURE}"
        )
        assert hashes, f"{one} has no hash. {CURE}"


def test_the_demo_gets_the_versions_that_were_tested() -> None:
    here = default_environment()
    tested = {
        one.name: one.specifier
        for one, _ in locked("test")
        if not one.marker or one.marker.evaluate(here)
    }
    for one, _ in locked("demo"):
        if not one.marker or one.marker.evaluate(here):
            assert tested.get(one.name) == one.specifier, f"{one.name} differs. {CURE}"
