"""Spoiled files by the thousand: each is refused, doubted, or reads as it did before."""

from __future__ import annotations

import csv
import io
import math
import random
import re
import shutil
from collections.abc import Callable
from dataclasses import fields, is_dataclass
from pathlib import Path
from typing import Any

import pytest

from webapp.packs.doubts import doubts
from webapp.packs.faults import RouteFaults
from webapp.packs.model import Route
from webapp.packs.read import read_route
from webapp.packs.service import demo_routes

KEPT_TRIPS = ("o0710", "i0727")
NUMBERS = ("at", "from", "to", "speed", "cars", "height", "gradient")
#: None of these is a number that a route may hold.
POISON = (
    *("nan", "NaN", "inf", "-inf", "Infinity", "1e999", "1e-9", "9" * 400, "0x10", "1_000"),
    *(
        "\u0663",
        "\uff11\uff12",
        "1,5,5",
        "+5",
        "--5",
        "=1+1",
        "",
        " ",
        "\0",
        "\ufeff7",
        "1/0",
        "None",
        "true",
    ),
)
TOML_POISON = (
    *("nan", "inf", "-inf", "1e999", "9" * 400, "9" * 5000, "0x" + "f" * 5000, "true", '""'),
    *("[" * 3000, "-1e300", "1979-05-27", "{}", "[]", "''"),
)
JSON_POISON = (
    "NaN",
    "Infinity",
    "1e999",
    "9" * 5000,
    "null",
    '"x"',
    "[" * 20000,
    "-181",
    "{}",
)
BYTES = (
    b"\0",
    b"\xff",
    b"\xfe\xff",
    b'"',
    b",",
    b";",
    b"\r",
    b"\n",
    b"9",
    b"-",
    b"\xc3",
    b"'",
)
Rng = random.Random


def _csv(raw: bytes) -> list[list[str]]:
    return list(csv.reader(io.StringIO(raw.decode("utf-8"), newline="")))


def _written(lines: list[list[str]], comma: str = ",") -> bytes:
    out = io.StringIO(newline="")
    csv.writer(out, delimiter=comma, lineterminator="\n").writerows(lines)
    return out.getvalue().encode("utf-8")


def poisoned(rng: Rng, file: str, raw: bytes) -> bytes:
    """Put something that is no number in the place of one."""
    if file.endswith(".csv"):
        lines = _csv(raw)
        columns = [n for n, name in enumerate(lines[0]) if name in NUMBERS]
        if not columns or len(lines) < 2:
            return recoded(rng, file, raw)
        lines[rng.randrange(1, len(lines))][rng.choice(columns)] = rng.choice(POISON)
        return _written(lines)
    text = raw.decode("utf-8")
    words = JSON_POISON if file.endswith(".geojson") else TOML_POISON
    line = r"^\[-?\d+\.\d+, (-?\d+\.\d+)\]" if words is JSON_POISON else r"^\w+ = ([\d.]+)$"
    found = list(re.finditer(line, text, re.M)) or list(re.finditer(r"(\d+)", text))
    place = rng.choice(found)
    return (text[: place.start(1)] + rng.choice(words) + text[place.end(1) :]).encode("utf-8")


def recoded(rng: Rng, file: str, raw: bytes) -> bytes:
    """Save the file as another program would."""
    text = raw.decode("utf-8").replace(",", ",é", 1) if rng.random() < 0.5 else raw.decode()
    codec = rng.choice(["utf-16", "utf-16-le", "utf-32", "latin-1", "cp037", "utf-7"])
    return text.encode(codec)


def separated(rng: Rng, file: str, raw: bytes) -> bytes:
    if not file.endswith(".csv"):
        return raw.replace(b"=", rng.choice([b":", b"=="]))
    return _written(_csv(raw), rng.choice(";\t|"))


def columns(rng: Rng, file: str, raw: bytes) -> bytes:
    """Take out, double or rename a column; a TOML key or GeoJSON member likewise."""
    if not file.endswith(".csv"):
        keys = re.findall(r"^(\w+) =", raw.decode(), re.M) or ["coordinates", "at", "geometry"]
        return raw.replace(rng.choice(keys).encode(), b"misspelt", 1)
    lines = _csv(raw)
    at = rng.randrange(len(lines[0]))
    how = rng.randrange(3)
    if how == 0:
        return _written([line[:at] + line[at + 1 :] for line in lines])
    if how == 1:
        return _written([[*line, line[at]] for line in lines])
    lines[0][at] = rng.choice(["", "x", lines[0][at].upper(), f"{lines[0][at]} (m)"])
    return _written(lines)


def endings(rng: Rng, file: str, raw: bytes) -> bytes:
    """Change what means nothing: a mark of the byte order, the ends of lines."""
    return rng.choice([b"\xef\xbb\xbf" + raw, raw.replace(b"\n", b"\r\n"), raw + b"\n\n"])


def slipped(rng: Rng, file: str, raw: bytes) -> bytes:
    """Change bytes or lines anyhow, perhaps into other right values."""
    how = rng.randrange(6)
    if how < 3:
        changed = bytearray(raw)
        for _ in range(rng.choice([1, 1, 3, 30])):
            at = rng.randrange(len(changed))
            if how == 0:
                changed[at] = rng.randrange(256)
            elif how == 1:
                changed[at:at] = rng.choice(BYTES)
            else:
                del changed[at : at + rng.choice([1, 1, 5, 200])]
            changed = changed or bytearray(b" ")
        return bytes(changed)
    lines = raw.splitlines(keepends=True)
    at = rng.randrange(len(lines))
    if how == 3:
        return b"".join(lines[:at] + lines[at + 1 :])
    if how == 4:
        return b"".join([*lines[: at + 1], *lines[at:]])
    return raw[: rng.randrange(len(raw))]


Spoil = Callable[[Rng, str, bytes], bytes]
#: What each of these makes is no other right file: it must not be read as one.
DAMAGE: tuple[Spoil, ...] = (poisoned, poisoned, recoded, separated, columns, endings)


@pytest.fixture(scope="module")
def small(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A demo line with two of its trips, which is read ten times as fast."""
    to = tmp_path_factory.mktemp("fuzz") / "orrin"
    folder = Path(shutil.copytree(demo_routes()["orrin"], to))
    for file in ("trips.csv", "calls.csv"):
        head, *lines = (folder / file).read_text(encoding="utf-8").splitlines(keepends=True)
        kept = [line for line in lines if line.startswith(KEPT_TRIPS)]
        (folder / file).write_text(head + "".join(kept), encoding="utf-8")
    return folder


def numbers(thing: Any) -> list[float]:
    """Return every number in a route."""
    if isinstance(thing, float | int):
        return [float(thing)]
    if is_dataclass(thing):
        thing = [getattr(thing, field.name) for field in fields(thing)]
    if isinstance(thing, tuple | list):
        return [number for one in thing for number in numbers(one)]
    return []


def outcome(folder: Path, before: Route) -> str:
    """Return what became of a spoiled folder; nothing else may come of it."""
    try:
        route = read_route(folder)
    except RouteFaults as refused:
        for fault in refused.faults:
            assert fault.file and fault.problem and fault.cure
            assert len(str(fault)) < 1500, str(fault)[:2000]
        return "refused"
    found = [one for one in doubts(route) if one.open]
    if route == before:
        assert not found
        return "same"
    assert all(map(math.isfinite, numbers(route)))
    return "doubted" if found else "changed"


def spoil(rng: Rng, folder: Path) -> tuple[str, Path, bytes]:
    path = rng.choice(sorted(folder.iterdir()))
    how = rng.choice([*DAMAGE, slipped, slipped, slipped])
    raw = path.read_bytes()
    path.write_bytes(how(rng, path.name, raw))
    return how.__name__, path, raw


def test_no_spoiled_file_breaks_the_check_or_gives_a_pack_in_silence(
    small: Path, request: pytest.FixtureRequest
) -> None:
    before = read_route(small)
    assert outcome(small, before) == "same"
    count: dict[tuple[str, str], int] = {}
    for seed in range(request.config.getoption("--fuzz-files")):
        how, path, raw = spoil(random.Random(seed), small)
        try:
            what = outcome(small, before)
            silent = what == "changed" and how != "slipped"
            assert not silent, f"seed {seed}: {how} {path.name} is read as another route"
        except RouteFaults:
            raise
        except Exception as broken:
            raise AssertionError(f"seed {seed}: {how} {path.name}") from broken
        finally:
            path.write_bytes(raw)
        count[how, what] = count.get((how, what), 0) + 1
    print(sorted(count.items()))
    assert outcome(small, before) == "same"
