"""What other rooms may ask of the packs: build one, check one, find a demo route."""

from __future__ import annotations

import csv
import io
import tomllib
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from pathlib import Path
from typing import Any

from calc.model import Line, TableInput, Train
from calc.table import Table, build_table
from webapp.packs.abreast import Compute, Progress
from webapp.packs.axes import TrainVariant, target_axis, train_axis
from webapp.packs.build import build_route, compute_target, pack_parts
from webapp.packs.doubts import CONFIRMED, Doubt, doubts
from webapp.packs.faults import Fault, RouteFaults
from webapp.packs.files import Pack
from webapp.packs.model import Route
from webapp.packs.read import read_route
from webapp.packs.source import source_file, write_source
from webapp.packs.turned import line_ahead, train_as_planned, turn_for

Json = dict[str, Any]


@dataclass(frozen=True)
class OneTarget:
    """One stop as computed, and the base and table files that hold it and its boards."""

    given: TableInput
    computed: Table
    base: Json
    table: Json
    target: int
    train: int
    variant: TrainVariant


def build_pack(
    folder: Path,
    progress: Progress | None = None,
    register: Sequence[Mapping[str, Any]] = (),
) -> Pack:
    """Read, check and compute a route folder, a register of places laid over it.

    Raises
    ------
    RouteFaults
        With every fault of the folder; no pack is built then.
    """
    route = read_route(folder, register)
    return build_route(route, progress, source=source_file(folder, register))


def build_source(content: Mapping[str, Any], folder: Path, progress: Progress | None) -> Pack:
    """Build a pack again from its normalised source, whose files go into an empty folder.

    Raises
    ------
    RouteFaults, NotASource
        No pack is built then.
    """
    register = write_source(dict(content), folder)
    return build_pack(folder, progress, register)


def check_folder(folder: Path) -> list[Fault]:
    """Return every fault of a route folder, none if it is right."""
    try:
        read_route(folder)
    except RouteFaults as found:
        return found.faults
    return []


def doubt_lines(found: Sequence[Doubt], route: str) -> list[str]:
    """Return the open doubts as lines for a terminal, and how one is confirmed."""
    open_ones = [one for one in found if one.open]
    if not open_ones:
        return []
    count = "1 open doubt" if len(open_ones) == 1 else f"{len(open_ones)} open doubts"
    return [
        *map(str, open_ones),
        f"{count}. Mend the row, or if it is right: step-in-hand pack confirm {route}"
        " DOUBT --who NAME --reason WORDS",
    ]


def open_doubts(
    folder: Path,
    register: Sequence[Mapping[str, Any]] = (),
    former: Mapping[str, Any] | None = None,
) -> list[str]:
    """Return the doubts of a route folder that nobody confirmed, one sentence each."""
    found = doubts(read_route(folder, register), former)
    return [str(one) for one in found if one.open]


class NoSuchDoubt(LookupError):
    """A code that no open doubt of the route has."""


def confirm_doubts(
    folder: Path,
    codes: Sequence[str],
    who: str,
    reason: str,
    on: date,
    former: Mapping[str, Any] | None = None,
) -> list[Doubt]:
    """Write who confirmed these doubts of a route and why; return them.

    Raises
    ------
    RouteFaults
        If the folder has faults: they come first.
    NoSuchDoubt
        If one of the codes is not that of an open doubt; nothing is written then.
    """
    by_code = {one.code: one for one in doubts(read_route(folder), former) if one.open}
    unknown = [code for code in codes if code not in by_code]
    if unknown:
        raise NoSuchDoubt(f"no open doubt has the code {', '.join(unknown)}")
    found = [by_code[code] for code in dict.fromkeys(codes)]
    write_confirmed(folder, found, who, reason, on)
    return found


def demo_routes() -> dict[str, Path]:
    """Return the invented routes that come with the project, by name."""
    here = Path(__file__).resolve().parent.parent
    for folder in (here / "_demo_routes", here.parent / "demo_routes"):
        if folder.is_dir():
            return {
                path.name: path
                for path in sorted(folder.iterdir())
                if (path / "route.toml").is_file()
            }
    return {}


def route_folder(route: str) -> Path:
    """Return the folder meant by a path or a demo route's name.

    Raises
    ------
    LookupError
        If it is neither; the message names the demo routes.
    """
    known = demo_routes()
    folder = known.get(route, Path(route))
    if not folder.is_dir():
        names = ", ".join(known) or "none"
        raise LookupError(
            f"'{route}' is neither a folder nor a demo route (demo routes: {names})"
        )
    return folder


def route_key(folder: Path) -> str:
    """Return the key of a route folder; nothing else of it is read.

    Raises
    ------
    RouteFaults
        If its head cannot be read.
    """
    try:
        head = tomllib.loads((folder / "route.toml").read_text("utf-8-sig"))["route"]
        return str(head["key"])
    except (OSError, ValueError, KeyError, TypeError):
        # The whole check says what is wrong with it.
        return read_route(folder).head.key


def write_files(pack: Pack, folder: Path) -> list[Path]:
    """Write a pack's files compressed, each named by its hash."""
    folder.mkdir(parents=True, exist_ok=True)
    written = []
    for file in pack.files:
        path = folder / f"{file.sha256}.json.gz"
        path.write_bytes(file.gz)
        written.append(path)
    return written


def target_keys(route: Route) -> list[str]:
    """Return the keys of every stop and speed board of a route."""
    return [target.key for target in target_axis(route, train_axis(route))]


def train_keys(route: Route) -> list[str]:
    """Return the keys of every train of a route, as it may run."""
    return [train.key for train in train_axis(route)]


def one_target(
    route: Route, stop: str, train: str, compute: Compute = build_table
) -> OneTarget | None:
    """Compute one stop for every train of a route, and its part of the pack.

    Every train, and the speed boards of the direction, come along: a train with isolated
    brakes is never braked later than the same one with fewer, and boards bound how fast a
    train arrives. So the figures are those of the whole pack. None if the route knows no
    such stop or train, or the train has no mark there.
    """
    trains = train_axis(route)
    number = next((n for n, each in enumerate(trains) if each.key == train), None)
    mine = next((each for each in target_axis(route, trains) if each.key == stop), None)
    if number is None or mine is None or mine.marks[number] is None:
        return None
    computed = compute_target(route, mine, compute)
    (half,) = computed.halves
    base, table = pack_parts(computed)
    at = [each.key for each in half.targets].index(stop)
    return OneTarget(half.given, half.table, base, table, at, number, trains[number])


def one_train(route: Route, train: str) -> tuple[TrainVariant, Train] | None:
    """Return a train of a route as it runs, and as it is planned with; None if not known."""
    found = next((each for each in train_axis(route) if each.key == train), None)
    return None if found is None else (found, train_as_planned(found, route.head.mps))


def turned_line(route: Route, direction: str) -> tuple[Line, Callable[[float], float]]:
    """Return the line in a direction of travel, and how metres of the line count in it."""
    chosen = route.direction(direction)
    return line_ahead(route, chosen), turn_for(route, chosen).z


HEADING = ("code", "file", "place", "who", "on", "reason")


def write_confirmed(
    folder: Path, found: Sequence[Doubt], who: str, reason: str, on: date
) -> None:
    """Add a row for each doubt to ``confirmed.csv``; what is in the file stays as it is."""
    path = folder / CONFIRMED
    before = path.read_bytes().decode("utf-8-sig") if path.exists() else ""
    out = io.StringIO(newline="")
    writer = csv.writer(out, lineterminator="\n")
    if not before.strip():
        writer.writerow(HEADING)
    elif not before.endswith("\n"):
        out.write("\n")
    for one in found:
        writer.writerow([one.code, one.file, one.place, who, on.isoformat(), reason])
    with path.open("a", encoding="utf-8", newline="") as file:
        file.write(out.getvalue())
