"""Slides, forward in time and wheelset by wheelset; for Rehearsal, Recorder and lessons.

Nothing here makes advice: the braking table stays with the modules above. The fence of
`calc` holds here too.
"""

from .handle import NO_STEP, Orders
from .handlings import Handling, orders_of, usual_handlings
from .hold import HoldOrGo, hold_or_go
from .model import Patch, Rail, Sand, Sander, SlideRuns, SlideTrain, even_rail
from .result import SlideResult, Trace
from .run import simulate

__all__ = [
    "NO_STEP",
    "Handling",
    "HoldOrGo",
    "Orders",
    "Patch",
    "Rail",
    "Sand",
    "Sander",
    "SlideResult",
    "SlideRuns",
    "SlideTrain",
    "Trace",
    "even_rail",
    "hold_or_go",
    "orders_of",
    "simulate",
    "usual_handlings",
]
