"""A tired brake and a late hand: the figures that plans are worked with.

A brake scatters, a hand is late, wheel-slide protection wastes grip. Where a route says
by how much, every plan is worked for the weakest and slowest of it all at once, so mark,
cover and limit hold without any correction by the driver; a nominal brake then stops
short of its mark if nothing is eased.
"""

from __future__ import annotations

from dataclasses import replace

from .model import Settings, TableInput

#: Share of the least deceleration that must be left of it with the weakest brake and the
#: poorest slide: there a driver feels the brake weak, not the line steep. Assumption.
STILL_SLOWS = 0.4


def as_worked(given: TableInput) -> TableInput:
    """Return the input with the weakest brake and the poorest slide it is worked for.

    Notes
    -----
    One share of the adhesion serves both ends of the brake's scatter: on a rail weaker by
    weakest / strongest the weakest brake is quiet where the strongest is on the rail
    itself. The lower of that and what WSP holds in a slide is taken for both.
    """
    told = given.settings
    if not leaves_room(told):
        return given
    weak = told.brake_share
    trains = tuple(
        replace(
            train, brake_share=train.brake_share * weak, dead_time=train.dead_time + told.slow
        )
        for train in given.trains
    )
    held = min(told.eta * weak / told.strongest_share, told.slide_eta or told.eta)
    settings = replace(
        told,
        eta=held,
        brake_share=1.0,
        strongest_share=1.0,
        slow=0.0,
        slide_eta=0.0,
        still_slows=STILL_SLOWS * told.least_deceleration,
    )
    return replace(given, trains=trains, settings=settings)


def leaves_room(settings: Settings) -> bool:
    """Tell whether plans are asked to leave room for anything at all."""
    return settings != without_room(settings)


def without_room(settings: Settings) -> Settings:
    """Return the settings for plans with the quoted figures and a hand on time."""
    return replace(
        settings, brake_share=1.0, strongest_share=1.0, late=0.0, slow=0.0, slide_eta=0.0
    )
