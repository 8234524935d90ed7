"""What the Brief says beside the figures: signals, running brake tests, doors, other names."""

from __future__ import annotations

from webapp.packs.draft import Draft
from webapp.packs.faults import FaultList
from webapp.packs.fixed_words import softened
from webapp.packs.model import Doors, Landmark, Name, SignalStop, Stop

#: Share of a car behind its last door; assumption, no source.
_DOORLESS_END = 0.05


def check_brief(draft: Draft, faults: FaultList) -> None:
    marks = {landmark.key: landmark for landmark in draft.rows("landmarks.csv")}
    for signal in draft.rows("signals.csv"):
        _check_signal(signal, marks, draft, faults)
    for test in draft.rows("brake_tests.csv"):
        _check_seen("brake_tests.csv", "landmark", test, test.landmark, marks, draft, faults)
    for doors in draft.rows("doors.csv"):
        _check_doors(doors, draft, faults)
    for name in draft.rows("names.csv"):
        _check_name(name, draft, faults)


def _check_signal(
    row: SignalStop, marks: dict[str, Landmark], draft: Draft, faults: FaultList
) -> None:
    signal, landing = marks.get(row.signal), marks.get(row.stop_before)
    if signal and signal.kind != "signal":
        problem = f"'{row.signal}' is a {signal.kind}, not a signal"
        faults.add("signals.csv", row.row, "signal", problem, "name a landmark of kind signal")
    for column, key in (("signal", row.signal), ("stop_before", row.stop_before)):
        _check_seen("signals.csv", column, row, key, marks, draft, faults)
    sign = {d.key: d.sign for d in draft.directions}.get(row.direction)
    if signal and landing and sign and sign * (signal.at - landing.at) <= 0:
        problem = f"'{row.stop_before}' does not lie before '{row.signal}'"
        cure = "name a landmark that the train meets before the signal"
        faults.add("signals.csv", row.row, "stop_before", problem, cure)


def _check_seen(
    file: str,
    column: str,
    row: object,
    key: str,
    marks: dict[str, Landmark],
    draft: Draft,
    faults: FaultList,
) -> None:
    """Refuse a landmark that nobody sees who travels in this direction."""
    landmark, direction = marks.get(key), getattr(row, "direction", "")
    known = {d.key for d in draft.directions}
    if landmark and direction in known and direction not in landmark.directions:
        problem = f"'{key}' is not seen in the direction {direction}"
        cure = (
            f"name a landmark that is seen in that direction; give this one the direction"
            f" {direction} only if a driver does see it so"
        )
        faults.add(file, getattr(row, "row", 0), column, problem, cure)


def _check_name(name: Name, draft: Draft, faults: FaultList) -> None:
    """Refuse words that would leave out what is put in, or soften what W4 says."""
    for mark in ("*", "{minutes}"):
        if name.words.count(mark) != name.say.count(mark):
            problem = f"'{name.say}' has {mark} more or less often than the words"
            faults.add(
                "names.csv", name.row, "say", problem, f"write {mark} as often as there"
            )
    slides = {train.slide_words for train in draft.types}
    wrong = softened(name.language, "W4", name.say) if name.words in slides else None
    if wrong:
        problem, _, cure = wrong.partition(" | ")
        faults.add("names.csv", name.row, "say", problem, cure)


def _check_doors(doors: Doors, draft: Draft, faults: FaultList) -> None:
    if doors.open_front >= doors.cars:
        problem = f"{doors.open_front} of {doors.cars} cars leaves no door shut"
        cure = "write fewer cars, or take the row out"
        faults.add("doors.csv", doors.row, "open_front", problem, cure)
    if "marks.csv" not in draft.whole:
        return
    marks = {(m.station, m.direction, m.cars) for m in draft.rows("marks.csv")}
    _check_room(doors, draft, faults)
    known = doors.station in draft.keys.get("stations.csv", set())
    if known and (doors.station, doors.direction, doors.cars) not in marks:
        problem = f"no train of {doors.cars} cars has a mark at '{doors.station}'"
        cure = f"mend the number, or add a mark ({doors.direction}) to marks.csv"
        faults.add("doors.csv", doors.row, "cars", problem, cure)


def _check_room(doors: Doors, draft: Draft, faults: FaultList) -> None:
    """Refuse doors that would open with no platform beside them."""
    here = (doors.station, doors.direction)
    signs = {d.key: d.sign for d in draft.directions}
    stops: list[Stop] = draft.rows("stops.csv")
    stop = next((s for s in stops if (s.station, s.direction) == here), None)
    marks = [
        m.at
        for m in draft.rows("marks.csv")
        if (m.station, m.direction) == here and m.cars == doors.cars
    ]
    each = max((f.length_m / f.cars for t in draft.types for f in t.formations), default=0.0)
    if stop is None or not marks or doors.direction not in signs:
        return
    room = marks[0] - stop.start if signs[doors.direction] > 0 else stop.end - marks[0]
    out = each * doors.open_front - room
    if out > _DOORLESS_END * each:
        problem = f"{doors.open_front} cars reach {out:.1f} m past the platform's rear end"
        faults.add("doors.csv", doors.row, "open_front", problem, "write fewer cars")
