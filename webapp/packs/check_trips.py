"""A day's trips: calls in order of travel, times that rise, trains that have marks."""

from __future__ import annotations

from itertools import pairwise

from webapp.packs.draft import Draft
from webapp.packs.faults import FaultList
from webapp.packs.model import Call, TrainType, Trip


def check_trips(draft: Draft, faults: FaultList) -> None:
    types = {train.key: train for train in draft.types}
    for trip in draft.rows("trips.csv"):
        calls = [call for call in draft.rows("calls.csv") if call.trip == trip.key]
        if "calls.csv" in draft.whole and not faults.bad_rows("calls.csv") and len(calls) < 2:
            problem = f"the trip '{trip.key}' has fewer than two calls"
            faults.add("trips.csv", trip.row, "trip", problem, "add its calls to calls.csv")
        _check_order(trip, calls, draft, faults)
        _check_times(calls, faults)
        if trip.train_type in types:
            _check_formation(trip, calls, types[trip.train_type], draft, faults)


def _check_order(trip: Trip, calls: list[Call], draft: Draft, faults: FaultList) -> None:
    sign = {d.key: d.sign for d in draft.directions}.get(trip.direction)
    at = {station.key: station.at for station in draft.rows("stations.csv")}
    stops = {(stop.station, stop.direction) for stop in draft.rows("stops.csv")}
    for call in calls[1:]:
        known = call.station in draft.keys.get("stations.csv", set())
        if known and not faults.bad_rows("stops.csv"):
            if (call.station, trip.direction) not in stops:
                problem = (
                    f"there is no stop '{call.station}' in the direction {trip.direction}"
                )
                faults.add("calls.csv", call.row, "station", problem, "add it to stops.csv")
    for one, other in pairwise(calls):
        if sign and one.station in at and other.station in at:
            if sign * (at[other.station] - at[one.station]) <= 0:
                problem = f"'{other.station}' does not lie beyond '{one.station}'"
                cure = "put the calls in order of travel, or mend the trip's direction"
                faults.add("calls.csv", other.row, "station", problem, cure)


def _check_times(calls: list[Call], faults: FaultList) -> None:
    last = ""
    for number, call in enumerate(calls):
        for column, text in (("arrive", call.arrive), ("depart", call.depart)):
            if text and last and text < last:
                problem = f"{text} is before {last}"
                cure = "let times rise along the trip; after midnight write 24:10"
                faults.add("calls.csv", call.row, column, problem, cure)
            last = text or last
        if number > 0 and not call.arrive:
            faults.add("calls.csv", call.row, "arrive", "the time is missing", "write it")
        if number < len(calls) - 1 and not call.depart:
            faults.add("calls.csv", call.row, "depart", "the time is missing", "write it")


def _check_formation(
    trip: Trip, calls: list[Call], train: TrainType, draft: Draft, faults: FaultList
) -> None:
    cars = {formation.key: formation.cars for formation in train.formations}
    if trip.formation not in cars:
        problem = f"'{train.key}' has no formation '{trip.formation}'"
        cure = f"write one of {', '.join(cars)}"
        faults.add("trips.csv", trip.row, "formation", problem, cure)
        return
    if faults.bad_rows("marks.csv") or "marks.csv" not in draft.whole:
        return
    marks = {(m.station, m.direction, m.cars) for m in draft.rows("marks.csv")}
    for call in calls[1:]:
        if (call.station, trip.direction, cars[trip.formation]) not in marks:
            problem = f"no stop mark for {cars[trip.formation]} cars at '{call.station}'"
            cure = f"add one ({trip.direction}) to marks.csv"
            faults.add("calls.csv", call.row, "station", problem, cure)
