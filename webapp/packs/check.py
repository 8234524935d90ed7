"""Everything that must hold between the files of a route folder."""

from __future__ import annotations

from webapp.packs.check_brief import check_brief
from webapp.packs.check_line import (
    check_geometry,
    check_gradients,
    check_landmarks,
    check_speeds,
)
from webapp.packs.check_places import check_places
from webapp.packs.check_stock import check_settings, check_states, check_trains
from webapp.packs.check_trips import check_trips
from webapp.packs.draft import Draft
from webapp.packs.faults import FaultList
from webapp.packs.references import check_references


def check_route(draft: Draft, faults: FaultList) -> None:
    """Note every fault between records that are each right by themselves."""
    check_references(draft, faults)
    check_settings(draft, faults)
    check_gradients(draft, faults)
    check_speeds(draft, faults)
    check_geometry(draft, faults)
    check_landmarks(draft, faults)
    check_places(draft, faults)
    check_states(draft, faults)
    check_trains(draft, faults)
    check_trips(draft, faults)
    check_brief(draft, faults)
