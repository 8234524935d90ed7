"""What reading grip from a trace assumes: what, value, basis, for the app's list."""

from __future__ import annotations

from . import motion, pieces, steps, trace
from .grip import Doubt

_BASIS = "assumption: common practice, no source"


def assumptions() -> tuple[tuple[str, str, str], ...]:
    """Return (what, value, basis) of every assumption, values as they are used."""
    doubt = Doubt()
    slips = ", ".join(f"{slip:g}" for slip in motion.SLIPS)
    changes = ", ".join(f"{change:g}" for change in motion.CHANGES)
    rows = (
        ("doubt of running resistance, as a share of it", f"{doubt.resistance:g}"),
        ("doubt of the gradient", f"{doubt.gradient:g}"),
        ("doubt of the speed's scale, mostly worn wheels", f"{doubt.speed:g}"),
        ("spread of adhesion before anything is known", f"{motion.FIRST_SPREAD:g}"),
        ("change of adhesion in a second: slow, fast rails", changes),
        ("sudden change where a step or a slide begins or ends", f"{motion.SUDDEN:g}"),
        ("a brake builds up or falls off in", f"{motion.BUILD_UP:g} s"),
        ("mean slip of the measured wheel, weighed against each other", slips),
        ("share of that slip that stays while a slide lasts", f"{motion.SLIP_OWN:g}"),
        ("a lag of the wheel lasts", f"{motion.LAG_LASTS:g} s"),
        ("adhesion is taken as constant for", f"{motion.GROUP:g} s"),
        ("least noise of a recorded speed", f"{motion.LEAST_NOISE:g} m/s"),
        ("a row so far below a later one lags", f"{motion.SURELY_BEHIND:g} m/s"),
        ("a pause that ends a slide", f"{pieces.PAUSE:g} s"),
        ("shortest slide that tells what the rail gave", f"{pieces.SHORTEST_SLIDE:g} s"),
        ("a gap, in sampling intervals", f"{trace.GAP_INTERVALS:g}"),
        ("a gap is never shorter than", f"{trace.GAP_LEAST:g} s"),
        ("longest gap a train is followed over by its speed", f"{trace.BLIND:g} s"),
        ("rows read before and after an application", f"{trace.CONTEXT:g} s"),
        ("applications read as one when closer than", f"{trace.SAME_APPLICATION:g} s"),
        ("a faster trace is averaged to", f"{trace.BLOCK:g} s"),
        ("a satellite fix may fall back by noise up to", f"{trace.FIX_NOISE:g} m"),
        ("slowest start of a dry brake test", f"{steps.LEAST_SPEED:g} m/s"),
        ("a step is held in a dry brake test for at least", f"{steps.LEAST_HELD:g} s"),
        ("a wheel counts too few turns below", f"{steps.SLOWEST:g} m/s"),
    )
    return tuple((f"recorder: {what}", value, _BASIS) for what, value in rows)
