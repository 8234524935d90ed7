"""Faults to plant in a copy of a demo route, each with where it must be found."""

from __future__ import annotations

import csv
import io
import json
import re
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

from webapp.packs.faults import Fault

#: Each of these, followed, would let a train be told to brake later than before.
_LATER = re.compile(
    r"round it (up|down)|move the (mark|limit) (on|forward)|move the mark or|give a place from"
    r"|take (it|one|the row|a formation) out$|lower isolated|'from'$|where the one before"
    r"|write \S+ as in gradients"
)
#: Where such words move no advice: a station's or landmark's place off the line, the two ends
#: of one platform or listed place in the wrong order, doors.
_HARMLESS = {
    *(("stations.csv", "at"), ("landmarks.csv", "at"), ("stops.csv", "from")),
    *(("stops.csv", "to"), ("listed.csv", "to"), ("doors.csv", "open_front")),
}


def makes_later(fault: Fault) -> bool:
    """Tell whether somebody who does what a fault says may get a later advice."""
    return bool(_LATER.search(fault.cure)) and (fault.file, fault.column) not in _HARMLESS


@dataclass(frozen=True)
class Planted:
    name: str
    plant: Callable[[Path], None]
    file: str
    row: int
    column: str
    words: str
    """Part of the message that names what was found."""
    hides: bool = False
    """Makes a whole file unreadable and so hides other faults in it."""


def cell(file: str, row: int, column: str, value: str) -> Callable[[Path], None]:
    def plant(folder: Path) -> None:
        path = folder / file
        lines = list(csv.reader(io.StringIO(path.read_text(encoding="utf-8"), newline="")))
        lines[row - 1][lines[0].index(column)] = value
        with path.open("w", encoding="utf-8", newline="") as out:
            csv.writer(out, lineterminator="\n").writerows(lines)

    return plant


def text(file: str, old: str, new: str) -> Callable[[Path], None]:
    def plant(folder: Path) -> None:
        path = folder / file
        before = path.read_text(encoding="utf-8")
        assert old in before, f"{old!r} is not in {file}"
        path.write_text(before.replace(old, new, 1), encoding="utf-8")

    return plant


def encoding(file: str) -> Callable[[Path], None]:
    def plant(folder: Path) -> None:
        path = folder / file
        lines = path.read_text(encoding="utf-8").splitlines(keepends=True)
        lines[2] = lines[2].replace(",", ",Grüne ", 1)
        path.write_bytes("".join(lines).encode("latin-1"))

    return plant


def swap_lon_lat(folder: Path) -> None:
    path = folder / "line.geojson"
    data = json.loads(path.read_text(encoding="utf-8"))
    geometry = data["features"][0]["geometry"]
    geometry["coordinates"] = [pair[::-1] for pair in geometry["coordinates"]]
    path.write_text(json.dumps(data), encoding="utf-8")


def move_point(folder: Path) -> None:
    path = folder / "line.geojson"
    data = json.loads(path.read_text(encoding="utf-8"))
    data["features"][0]["geometry"]["coordinates"][3][0] += 0.01
    path.write_text(json.dumps(data), encoding="utf-8")


def remove(file: str) -> Callable[[Path], None]:
    return lambda folder: (folder / file).unlink()


FAULTS = [
    Planted(
        "landing mark behind its signal",
        cell("signals.csv", 3, "stop_before", "great-tarrow-board-down"),
        *("signals.csv", 3, "stop_before", "does not lie before 'signal-267'"),
    ),
    Planted(
        "signal that is a board",
        cell("signals.csv", 2, "signal", "great-tarrow-board-down"),
        *("signals.csv", 2, "signal", "is a board, not a signal"),
    ),
    Planted(
        "landing mark that is not there",
        cell("signals.csv", 4, "stop_before", "no-such-board"),
        *("signals.csv", 4, "stop_before", "'no-such-board' is not in landmarks.csv"),
    ),
    Planted(
        "brake test where nobody sees the mark",
        cell("brake_tests.csv", 3, "landmark", "signal-221"),
        *("brake_tests.csv", 3, "landmark", "'signal-221' is not seen in the direction up"),
    ),
    Planted(
        "all doors of a short platform",
        cell("doors.csv", 2, "open_front", "8"),
        *("doors.csv", 2, "open_front", "8 of 8 cars leaves no door shut"),
    ),
    Planted(
        "doors off the platform",
        cell("doors.csv", 5, "open_front", "7"),
        *("doors.csv", 5, "open_front", "m past the platform's rear end"),
    ),
    Planted(
        "doors of a train that never calls",
        cell("doors.csv", 3, "cars", "12"),
        *("doors.csv", 3, "cars", "no train of 12 cars has a mark"),
    ),
    Planted(
        "gap in gradients",
        cell("gradients.csv", 9, "from", "15m 25ch"),
        *("gradients.csv", 9, "from", "gap of 101 m"),
    ),
    Planted(
        "overlap in gradients",
        cell("gradients.csv", 13, "from", "19m 00ch"),
        *("gradients.csv", 13, "from", "overlap of 201 m"),
    ),
    Planted(
        "gradient in other words",
        cell("gradients.csv", 5, "gradient", "1:200"),
        *("gradients.csv", 5, "gradient", "'1:200' is not a gradient"),
    ),
    Planted(
        "stop off the line",
        cell("stations.csv", 19, "at", "63m 00ch"),
        *("stations.csv", 19, "at", "63 mi 00 ch is off the line"),
    ),
    Planted(
        "80 chains",
        cell("stations.csv", 4, "at", "12m 90ch"),
        *("stations.csv", 4, "at", "80 chains are a mile: write 13 mi 10 ch"),
    ),
    Planted(
        "duplicate station",
        cell("stations.csv", 7, "key", "pellow-cross"),
        *("stations.csv", 7, "key", "'pellow-cross' stood in row 6 already"),
    ),
    Planted(
        "negative speed",
        cell("speeds.csv", 3, "speed", "-50"),
        *("speeds.csv", 3, "speed", "-50 is outside what is possible"),
    ),
    Planted(
        "speed not on the dial",
        cell("speeds.csv", 4, "speed", "68"),
        *("speeds.csv", 4, "speed", "68 is not a multiple of 5"),
    ),
    Planted(
        "bad number text",
        cell("marks.csv", 4, "cars", "four"),
        *("marks.csv", 4, "cars", "'four' is not a whole number"),
    ),
    Planted(
        "mark outside the platform",
        cell("marks.csv", 2, "at", "10m 40ch"),
        *("marks.csv", 2, "at", "outside the platform"),
    ),
    Planted(
        "rear off the platform",
        cell("stops.csv", 2, "from", "10m 56.5ch"),
        *("marks.csv", 3, "at", "the rear stands 14.2 m off the platform"),
    ),
    Planted(
        "mark beyond the limit",
        cell("not_past.csv", 5, "at", "13m 12.5ch"),
        *("marks.csv", 5, "at", "beyond what must not be passed"),
    ),
    Planted(
        "unknown train",
        cell("trips.csv", 3, "type", "disk"),
        *("trips.csv", 3, "type", "'disk' is not in trains.toml"),
    ),
    Planted(
        "unknown formation",
        cell("trips.csv", 5, "formation", "12"),
        *("trips.csv", 5, "formation", "'disc' has no formation '12'"),
    ),
    Planted(
        "times do not rise",
        cell("calls.csv", 4, "arrive", "04:55"),
        *("calls.csv", 4, "arrive", "04:55 is before"),
    ),
    Planted(
        "impossible time",
        cell("calls.csv", 40, "depart", "7.75"),
        *("calls.csv", 40, "depart", "'7.75' is not a time"),
    ),
    Planted(
        "calls out of order",
        cell("calls.csv", 60, "station", "kettle-bay"),
        *("calls.csv", 60, "station", "does not lie beyond"),
    ),
    Planted(
        "no such day",
        cell("listed.csv", 2, "season_from", "10-32"),
        *("listed.csv", 2, "season_from", "'10-32' is not a day"),
    ),
    Planted(
        "half a season",
        cell("listed.csv", 5, "season_to", ""),
        *("listed.csv", 5, "season_to", "half a season"),
    ),
    Planted(
        "listed place reversed",
        cell("listed.csv", 6, "from", "49m 00ch"),
        *("listed.csv", 6, "to", "'vennick-viaduct' is reversed"),
    ),
    Planted(
        "landmark called the same",
        cell("landmarks.csv", 13, "words", "tunnel mouth"),
        *("landmarks.csv", 13, "words", "'tunnel mouth' is also row"),
    ),
    Planted(
        "landmark in no direction",
        cell("landmarks.csv", 20, "directions", "sideways"),
        *("landmarks.csv", 20, "directions", "'sideways' is not a direction"),
    ),
    Planted(
        "empty words",
        cell("landmarks.csv", 30, "words", " "),
        *("landmarks.csv", 30, "words", "the cell is empty"),
    ),
    Planted(
        "platform reversed",
        text("stops.csv", "ostleford,down,1,stop,15m 40", "ostleford,down,1,stop,15m 60"),
        *("stops.csv", 4, "to", "ends before it begins"),
    ),
    Planted(
        "train without mass",
        text("trains.toml", "mass_t = 150", "mass_t = 0"),
        *("trains.toml", 91, "type.formation.0.mass_t", "0 is outside what is possible"),
    ),
    Planted(
        "number without a source",
        text("trains.toml", 'release_mps3 = "assumption: as', 'release = "assumption: as'),
        *("trains.toml", 5, "type.basis.release_mps3", "a number without a source"),
    ),
    Planted(
        "rail states do not fall",
        text("rail_states.toml", "plan = 0.05", "plan = 0.065"),
        *("rail_states.toml", 39, "state.plan", "'frost' is not below 'damp' at 180 km/h"),
    ),
    Planted(
        "the last state may be picked",
        text("rail_states.toml", "pickable = false", "pickable = true"),
        *("rail_states.toml", 57, "state.pickable", "ends the chain"),
    ),
    Planted(
        "a setting nobody knows",
        text("route.toml", "short_stop_m = 5", "short_stop_m = 5\nshort_stop_ft = 16"),
        *("route.toml", 31, "settings.short_stop_ft", "is not known here"),
        hides=True,
    ),
    Planted(
        "nobody approved moving glance",
        text("route.toml", '"Driving standards manager (demo company)"', '""'),
        *("route.toml", 0, "settings.moving_glance_approver", "nobody approved it"),
    ),
    Planted(
        "a touch on the card that has none",
        text("route.toml", "short_stop_m = 5", "short_stop_m = 5\nmark_here = true"),
        *("route.toml", 0, "settings.mark_here", "the card that may be read while moving"),
    ),
    Planted(
        "a state in hand from a rail state that is none",
        text(
            "route.toml",
            'quiet_one_worse_from = "damp"',
            'quiet_one_worse_from = "moist"',
        ),
        *("route.toml", 0, "physics.quiet_one_worse_from", "no rail state 'moist'"),
        hides=True,
    ),
    Planted(
        "a level of room that is none",
        text("route.toml", 'room = "plenty"', 'room = "lots"'),
        *("route.toml", 44, "physics.room", "'lots' is not known here"),
        hides=True,
    ),
    Planted(
        "a level of room and figures of its own",
        text("route.toml", 'room = "plenty"', 'room = "plenty"\nlate_s = 1'),
        *("route.toml", 0, "physics.late_s", "room = 'plenty' says it already"),
    ),
    Planted(
        "swapped longitude and latitude",
        swap_lon_lat,
        *("line.geojson", 1, "lon", "longitude and latitude are swapped"),
    ),
    Planted(
        "point of the map moved",
        move_point,
        *("line.geojson", 4, "at", "m on the map but"),
        hides=True,
    ),
    Planted(
        "wrong encoding",
        encoding("listed.csv"),
        *("listed.csv", 3, "", "is not UTF-8"),
        hides=True,
    ),
    Planted(
        "missing file",
        remove("not_past.csv"),
        *("not_past.csv", 0, "", "the file is missing"),
        hides=True,
    ),
    Planted(
        "missing column",
        text("marks.csv", "station,direction,cars,at", "station,direction,coaches,at"),
        *("marks.csv", 1, "cars", "the column 'cars' is missing"),
        hides=True,
    ),
    Planted(
        "a comma too many",
        text("speeds.csv", "down,8m 00ch", "down,,8m 00ch"),
        *("speeds.csv", 2, "", "the row has 5 cells"),
        hides=True,
    ),
    Planted(
        "not TOML",
        text("trains.toml", "older = false", "older = no"),
        *("trains.toml", 7, "", "this is not TOML"),
        hides=True,
    ),
    Planted(
        "unknown unit",
        text("route.toml", '"mi-ch"', '"leagues"'),
        *("route.toml", 6, "route.distance_unit", "'leagues' is not known here"),
        hides=True,
    ),
    Planted(
        "a stop nothing limits",
        text("not_past.csv", "ostleford,down,platform end", "lintock,up,points"),
        *("stops.csv", 4, "station", "must not be passed at ostleford"),
        hides=True,
    ),
    Planted(
        "no mark for a train that calls",
        text("marks.csv", "dunspool,down,4", "dunspool,down,5"),
        *("calls.csv", 9, "station", "no stop mark for 4 cars at 'dunspool'"),
        hides=True,
    ),
]
