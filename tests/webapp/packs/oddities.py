"""Changes to plant in a copy of a demo route that pass as right rows: each must be doubted."""

from __future__ import annotations

import csv
import io
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

from tests.webapp.packs.faults import remove, text

Plant = Callable[[Path], None]


@dataclass(frozen=True)
class Odd:
    name: str
    plant: Plant
    file: str
    words: str
    """Part of the message of an open doubt."""
    route: str = "kettle-bay"
    most: int = 3
    """So many doubts at most: one change asks few questions."""
    fault: bool = False
    """Refused as a fault, which is better still."""


def _lines(folder: Path, file: str) -> list[list[str]]:
    content = (folder / file).read_text(encoding="utf-8")
    return list(csv.reader(io.StringIO(content, newline="")))


def _save(folder: Path, file: str, lines: list[list[str]]) -> None:
    with (folder / file).open("w", encoding="utf-8", newline="") as out:
        csv.writer(out, lineterminator="\n").writerows(lines)


def row(file: str, starts: str, column: str, value: str) -> Plant:
    """Change one cell of the only row that begins with these cells, joined by commas."""

    def plant(folder: Path) -> None:
        lines = _lines(folder, file)
        (mine,) = [line for line in lines if ",".join(line).startswith(starts)]
        mine[lines[0].index(column)] = value
        _save(folder, file, lines)

    return plant


def without(file: str, starts: str) -> Plant:
    def plant(folder: Path) -> None:
        lines = _lines(folder, file)
        left = [line for line in lines if not ",".join(line).startswith(starts)]
        assert len(left) == len(lines) - 1
        _save(folder, file, left)

    return plant


def swapped(file: str, one: str, other: str, column: str) -> Plant:
    """Put the value of each of two rows into the other."""

    def plant(folder: Path) -> None:
        lines = _lines(folder, file)
        (a,) = [line for line in lines if ",".join(line).startswith(one)]
        (b,) = [line for line in lines if ",".join(line).startswith(other)]
        at = lines[0].index(column)
        a[at], b[at] = b[at], a[at]
        _save(folder, file, lines)

    return plant


def shifted(file: str, column: str, first: int, last: int) -> Plant:
    """Move a column down by one row between two rows, as a slip in a spreadsheet does."""

    def plant(folder: Path) -> None:
        lines = _lines(folder, file)
        at = lines[0].index(column)
        values = [line[at] for line in lines]
        for n in range(first, last + 1):
            lines[n - 1][at] = values[n - 2]
        _save(folder, file, lines)

    return plant


def inferred(*files: str) -> Plant:
    """Mark every row of these files as guessed."""

    def plant(folder: Path) -> None:
        for file in files:
            lines = _lines(folder, file)
            _save(
                folder,
                file,
                [
                    [*line, "inferred" if n == 0 else "guessed from the map"]
                    for n, line in enumerate(lines)
                ],
            )

    return plant


def in_turn(*plants: Plant) -> Plant:
    def plant(folder: Path) -> None:
        for one in plants:
            one(folder)

    return plant


FOUR = [
    Odd(
        "a gradient's sign turned",
        row("gradients.csv", "37m 44ch,", "gradient", "1 in 55 up"),
        *("gradients.csv", "1 in 55 up rises 58.5 m"),
    ),
    Odd(
        "a train of 16 t",
        text("trains.toml", "mass_t = 160", "mass_t = 16"),
        *("trains.toml", "16 t on 4 cars is 1.0 t a wheelset"),
    ),
    Odd(
        "4 km in one minute",
        row("calls.csv", "d0512,tunmarsh", "arrive", "05:18"),
        *("calls.csv", "3.8 km from brinewick to tunmarsh in 1 min: no train could"),
    ),
    Odd(
        "a signal that vanished from the landmarks",
        without("landmarks.csv", "signal-186"),
        *("landmarks.csv", "stands alone"),
    ),
    Odd(
        "a signal that vanished from what must not be passed",
        without("not_past.csv", "corvane,down,signal"),
        *(
            "confirmed.csv",
            "'corvane down signal' in not_past.csv, which has changed",
        ),
    ),
    Odd(
        "a signal that vanished from what must not be passed, known as a landmark",
        without("not_past.csv", "quernstow,up,signal"),
        *("landmarks.csv", "'signal 296' stands at or just past quernstow"),
    ),
    Odd(
        "a signal of the Brief that vanished from the landmarks",
        without("landmarks.csv", "signal-225"),
        *("signals.csv", "'signal-225' is not in landmarks.csv"),
        fault=True,
    ),
]

ODD = [
    *FOUR,
    Odd(
        "a sign turned with no heights at all",
        in_turn(
            remove("heights.csv"), row("gradients.csv", "37m 44ch,", "gradient", "1 in 75 up")
        ),
        *("gradients.csv", "1 in 75 up beside 1 in 200 down and 1 in 260 down"),
    ),
    Odd(
        "a short gentle sign turned",
        row("gradients.csv", "8.400,", "gradient", "1 in 500 up"),
        *("gradients.csv", "1 in 500 up"),
        route="orrin",
    ),
    Odd(
        "1 in 750 for 1 in 75",
        row("gradients.csv", "37m 44ch,", "gradient", "1 in 750 down"),
        *("gradients.csv", "1 in 750 down falls"),
    ),
    Odd(
        "steeper than 1 in 25",
        row("gradients.csv", "39m 44ch,", "gradient", "1 in 22 down"),
        *("gradients.csv", "1 in 22 down is steeper than 1 in 25"),
    ),
    Odd(
        "gradients shifted by a row",
        shifted("gradients.csv", "gradient", 10, 20),
        *("gradients.csv", "by the heights it"),
        most=11,
    ),
    Odd(
        "a mass in kilogrammes",
        text("trains.toml", "mass_t = 160", "mass_t = 1600"),
        *("trains.toml", "1600 t on 4 cars is 100.0 t a wheelset"),
    ),
    Odd(
        "steps that brake alike at speed",
        text("trains.toml", "rates = [[0, 6.0]]", "rates = [[0, 6.0], [75, 2.9]]"),
        *("trains.toml", "'step 2' of 'disc' brakes no harder than 'step 1'"),
    ),
    Odd(
        "a rate in m/s2",
        text("trains.toml", "rates = [[0, 3.0]]", "rates = [[0, 0.3]]"),
        *("trains.toml", "rates 0.3 %g"),
    ),
    Odd(
        "a full service brake nobody could stand in",
        text("trains.toml", "rates = [[0, 9.0]]", "rates = [[0, 19.0]]"),
        *("trains.toml", "rates 19 %g"),
    ),
    Odd(
        "a length in feet",
        text("trains.toml", "length_m = 80.0", "length_m = 262"),
        *("marks.csv", "the rear stands"),
        fault=True,
    ),
    Odd(
        "a length of half",
        text("trains.toml", "length_m = 80.0", "length_m = 24.0"),
        *("trains.toml", "length_m 6 m a car"),
    ),
    Odd(
        "a build-up of ten times",
        text("trains.toml", "build_up_mps3 = 0.5", "build_up_mps3 = 5"),
        *("trains.toml", "build_up_mps3 5 m/s3"),
    ),
    Odd(
        "no dead time",
        text("trains.toml", "dead_time_s = 0.4", "dead_time_s = 0.04"),
        *("trains.toml", "dead_time_s 0.04 s"),
    ),
    Odd(
        "an acceleration of a lift",
        text("trains.toml", "acceleration_mps2 = 0.9", "acceleration_mps2 = 0.09"),
        *("trains.toml", "acceleration_mps2 0.09"),
    ),
    Odd(
        "a timetable an hour late at its end",
        row("calls.csv", "d0512,great-tarrow", "arrive", "07:39"),
        *("calls.csv", "from sarnhope to great-tarrow in 64 min"),
    ),
    Odd(
        "a departure that is not the one in the name",
        row("calls.csv", "d0512,kettle-bay", "depart", "05:11"),
        *("trips.csv", "leaves at 05:11"),
    ),
    Odd(
        "a station a mile off",
        row("stations.csv", "wrayling,", "at", "24m 14ch"),
        *("stops.csv", "the platform lies"),
    ),
    Odd(
        "a limit change inside a platform",
        in_turn(
            row("speeds.csv", "down,46m 00ch", "to", "46m 35ch"),
            row("speeds.csv", "down,47m 00ch", "from", "46m 35ch"),
        ),
        *("speeds.csv", "inside a platform of amberlode"),
    ),
    Odd(
        "a speed with a digit too many",
        row("speeds.csv", "down,46m 00ch", "speed", "150"),
        *("speeds.csv", "150 between 75 and 70"),
    ),
    Odd(
        "a speed with a digit too few",
        row("speeds.csv", "down,10m 00ch", "speed", "5"),
        *("speeds.csv", "5 between 50 and 55"),
        most=8,
    ),
    Odd(
        "a speed of the other line",
        row("speeds.csv", "down,37m 00ch", "speed", "85"),
        *("speeds.csv", "85 here, but 60"),
    ),
    Odd(
        "speeds shifted by a row",
        shifted("speeds.csv", "speed", 4, 9),
        *("speeds.csv", "towards the other end"),
    ),
    Odd(
        "marks of two trains swapped",
        swapped("marks.csv", "ostleford,down,4", "ostleford,down,8", "at"),
        *("marks.csv", "the rear stands 39.3 m off the platform"),
        fault=True,
    ),
    Odd(
        "the shorter train's mark beyond the longer one's",
        row("marks.csv", "ostleford,down,4", "at", "15m 49ch"),
        *("marks.csv", "are they swapped"),
    ),
    Odd(
        "a mark at the platform's very end",
        row("marks.csv", "ostleford,down,8", "at", "15m 49.6ch"),
        *("marks.csv", "3.0 m from the platform's end"),
    ),
    Odd(
        "a platform end further on than the platform",
        row("not_past.csv", "ostleford,down,platform end", "at", "15m 54.75ch"),
        *("not_past.csv", "the platform end is 101 m from that in stops.csv"),
    ),
    Odd(
        "no platform end, a crossing alone",
        without("not_past.csv", "tunmarsh,down,platform end"),
        *("stops.csv", "has no platform end in not_past.csv"),
    ),
    Odd(
        "a platform of half a mile",
        row("stops.csv", "lintock,down", "from", "41m 45.75ch"),
        *("stops.csv", "the platform is 593 m long"),
    ),
    Odd(
        "words of another signal",
        row("landmarks.csv", "signal-186", "words", "signal 168"),
        *("landmarks.csv", "'signal-186' is called 'signal 186' and 'signal 168'"),
    ),
    Odd(
        "a signal moved away from its fellow",
        row("landmarks.csv", "signal-186", "at", "24m 40ch"),
        *("landmarks.csv", "stands alone"),
    ),
    Odd(
        "a bridge moved by a slip of a digit",
        row("landmarks.csv", "heron-farm-bridge", "at", "31m 28.5ch"),
        *("landmarks.csv", "at 31 mi 28.5 ch is out of order"),
    ),
    Odd(
        "month and day of a season swapped",
        row("listed.csv", "thrasseby-wood", "season_from", "01-10"),
        *("listed.csv", "is 339 days"),
    ),
    Odd(
        "the ends of a season swapped",
        in_turn(
            row("listed.csv", "ostleford-avenue", "season_from", "11-30"),
            row("listed.csv", "ostleford-avenue", "season_to", "10-01"),
        ),
        *("listed.csv", "days"),
    ),
    Odd(
        "a listed place of the whole line",
        row("listed.csv", "harrowmere-mill", "to", "42m 00ch"),
        *("listed.csv", "m long"),
    ),
    Odd(
        "a worse rail state with less cover",
        text("rail_states.toml", "cover_aim_m = 400", "cover_aim_m = 40"),
        *("rail_states.toml", "asks for less cover"),
    ),
    Odd(
        "a rail hardly better than its slick",
        text("rail_states.toml", "plan = 0.04\nslick = 0.02", "plan = 0.022\nslick = 0.02"),
        *("rail_states.toml", "hardly less grip"),
    ),
    Odd(
        "all of the adhesion used",
        text("route.toml", "eta = 0.85", "eta = 1.0"),
        *("route.toml", "eta 1 is outside 0.6 to 0.95"),
    ),
    Odd(
        "a driver who reacts at once",
        text("route.toml", "reaction_s = 2.0", "reaction_s = 0.2"),
        *("route.toml", "reaction_s 0.2 s"),
    ),
    Odd(
        "km/h for mph",
        text("route.toml", '"mph"', '"kmh"'),
        *("calls.csv", "no train could, "),
    ),
    Odd(
        "a line guessed from a timetable",
        inferred("gradients.csv", "stops.csv", "marks.csv", "speeds.csv"),
        *("gradients.csv", "rows 2 to 41 are inferred, not surveyed: guessed from the map"),
        most=6,
    ),
]
