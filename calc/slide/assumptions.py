"""What the full slide model assumes: what, value, basis, for the app's list."""

from __future__ import annotations

from dataclasses import fields

from .compare import BlockData
from .model import Sand, SlideTrain
from .tread import FADE, FADE_FROM

_BASIS = "assumption: no figure is published"


def assumptions() -> tuple[tuple[str, str, str], ...]:
    """Return (what, value, basis) of every assumption, values as they are used."""
    train = {field.name: field.default for field in fields(SlideTrain)}
    sand = {field.name: field.default for field in fields(Sand)}
    block = BlockData()
    rows = (
        ("a cylinder fills and empties, first order", f"{train['fill_time']} s"),
        ("share of the rail's adhesion that WSP holds", f"{train['eta']}"),
        ("how far below that WSP dumps a cylinder", f"{train['undershoot']}"),
        ("film taken off by each wheelset for the next", f"{train['cleaning']}"),
        ("adhesion of rail without any film", f"{train['clean_adhesion']}"),
        ("sand: greatest gain of adhesion", f"{sand['gain']}"),
        ("sand: amount that gives 63 % of it", f"{sand['scale']} g/m"),
        ("sand: delay", f"{sand['delay']} s"),
        ("sand: no sand below", f"{sand['min_speed']} m/s"),
        ("tread brake: clean rail and tyre", f"{block.dry}"),
        (
            "tread brake: way that takes off 63 % of a tyre's film",
            f"{block.cleaning_metres} m",
        ),
        ("tread brake: heat capacity of rims and blocks", f"{block.heat_capacity} J/(kg K)"),
        ("tread brake: time of their cooling", f"{block.cooling_time} s"),
        ("tread brake: share of the adhesion a locked wheelset gets", f"{block.locked}"),
        ("tread brake: cleaning while it locks", f"{block.locked_cleaning}"),
        ("cast iron fades above", f"{FADE_FROM} degrees C"),
        ("cast iron loses for each degree above", f"{FADE}"),
    )
    return tuple((f"slide: {what}", value, _BASIS) for what, value in rows)
