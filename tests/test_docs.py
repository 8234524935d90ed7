"""The documents name what is there: commands, calls, settings, folders."""

from __future__ import annotations

import re
from pathlib import Path

import click
import pytest

from webapp import create_app
from webapp.commands import cli
from webapp.plain import config

ROOT = Path(__file__).parent.parent
README = (ROOT / "README.md").read_text()
SHORT = (ROOT / "DEVELOPERS.md").read_text()
#: DEVELOPERS.md and every page it names.
PAGES = re.findall(r"`([\w/]+/[A-Z]+\.md)`", SHORT)
DEVELOPERS = "\n".join([SHORT, *((ROOT / page).read_text() for page in PAGES)])


def commands(group: click.Command, before: str = "step-in-hand") -> list[str]:
    """Every command of the command line, in full."""
    found = []
    for name, command in getattr(group, "commands", {}).items():
        below = commands(command, f"{before} {name}")
        found += below or [f"{before} {name}"]
    return found


def plain(rule: str) -> str:
    """A URL rule without its converters: <string(length=64):sha> is <sha>."""
    return re.sub(r"<[^<>:]*:(\w+)>", r"<\1>", rule)


def described(rule: str) -> bool:
    """Whether a page shows a rule in code marks, parameters under any name."""
    shape = re.escape(re.sub(r"<\w+>", "<>", plain(rule))).replace("<>", "<[^>]+>")
    return re.search(rf"`(?:(?:GET|POST|,) ?)*{shape}(?:\?[^`]*)?`", DEVELOPERS) is not None


@pytest.fixture(scope="module")
def rules(tmp_path_factory: pytest.TempPathFactory) -> list[str]:
    app = create_app({"DATA": tmp_path_factory.mktemp("docs"), "DEMO": True})
    return sorted({rule.rule for rule in app.url_map.iter_rules()})


def test_readme_has_the_two_commands_and_they_exist():
    for name in ("demo", "test"):
        assert re.search(rf"^bash \.ci/{name}\b", README, re.MULTILINE)
        assert (ROOT / ".ci" / name).is_file()


def test_the_short_page_stays_short_and_names_every_other():
    assert len(SHORT.split()) <= 2_500
    folders = ("calc", "webapp", "static", "tests")
    there = {
        p.relative_to(ROOT).as_posix() for one in folders for p in (ROOT / one).rglob("*.md")
    }
    assert there <= set(PAGES), there - set(PAGES)


def test_every_call_is_described(rules):
    assert len(rules) > 8
    assert [rule for rule in rules if not described(rule)] == []


def test_a_call_that_is_not_described_is_found():
    assert described("/api/ping")
    assert not described("/api/pong")
    assert plain("/packs/<string(length=64):sha>") == "/packs/<sha>"


@pytest.mark.parametrize("command", commands(cli.cli))
def test_every_command_is_described(command):
    assert f"`{command}" in README + DEVELOPERS


GROUPS = [command.partition(" ")[2] for command in commands(cli.cli) if command.count(" ") > 1]
BARE = re.compile(rf"(?:`|<code>)(?:{'|'.join(map(re.escape, GROUPS))})(?=[ `<])")
SAYING = sorted(
    path
    for folder in ("calc", "demo_routes", "static", "webapp")
    for path in (ROOT / folder).rglob("*")
    if path.suffix in {".md", ".py", ".html", ".js"}
)


def test_a_command_is_written_with_the_name_of_its_program():
    """Somebody who reads a bare `warning list` looks for a program of that name."""
    pages = [ROOT / "README.md", ROOT / "DEVELOPERS.md", *SAYING]
    bare = [(p.name, m[0]) for p in pages for m in BARE.finditer(p.read_text("utf-8"))]
    assert bare == []
    assert BARE.search("Read it again with `warning list`, then decide.")
    assert not BARE.search("Read it again with `step-in-hand warning list`.")


@pytest.mark.parametrize("name", config.FROM_ENVIRONMENT)
def test_every_setting_is_described(name):
    assert f"{config.PREFIX}{name}" in README + DEVELOPERS


@pytest.mark.parametrize("picture", re.findall(r"!\[[^]]*\]\(([^)]+)\)", README))
def test_every_picture_is_there(picture):
    assert (ROOT / picture).is_file()


@pytest.mark.parametrize(
    "path",
    sorted(
        set(
            re.findall(
                r"`((?:calc|webapp|static|tests|demo_routes|\.ci)/[\w./-]*)`",
                README + DEVELOPERS,
            )
        )
    ),
)
def test_every_path_named_in_the_text_exists(path):
    assert (ROOT / path).exists(), path
