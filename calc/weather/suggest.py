"""A suggested rail state with its reasons in words; a person picks, not this.

Weather makes findings, each a condition with its reason; the worst of them counts. The
season may cap it, the driver's own signs only ever make it worse, and the state no one
may set off in is never suggested.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from .chain import Chain
from .findings import Finding, Place, look
from .observation import Hour
from .rain import Wetting
from .signs import worsen

#: Said with every suggestion.
LABEL = "Suggested from weather and signs; nobody has measured the rail. You pick the state."
#: Said where signs are worse than any state a driver may pick.
BEYOND = "Your signs are worse than any state to set off in: tell the signaller."


@dataclass(frozen=True)
class Suggestion:
    """What is suggested, and why.

    Attributes
    ----------
    state : str or None
        Key in the chain; None where too little is known to suggest any.
    reasons : tuple of str
        Why, the decisive first.
    unknown : tuple of str
        What was not observed and might have mattered, and how it was counted.
    beyond : bool
        Whether the signs are worse than any state a driver may pick.
    label : str
        What kind of statement this is.
    why : tuple of str
        The weather's reasons without figures, one of `findings.REASONS` each, the decisive
        first; a screen has words for each.
    """

    state: str | None
    reasons: tuple[str, ...]
    unknown: tuple[str, ...]
    beyond: bool
    label: str = LABEL
    why: tuple[str, ...] = ()


def suggest(
    chain: Chain,
    now: Hour,
    rain: Sequence[float | None],
    place: Place,
    signs: Sequence[str] = (),
) -> Suggestion:
    """Suggest a rail state from weather, season, hour and the driver's signs.

    Parameters
    ----------
    chain : Chain
        The line's rail states, best first.
    now : Hour
        The present hour.
    rain : sequence of float or None
        Rain in each hour, oldest first, the present hour last; None: not observed. [mm]
    place : Place
        Where and when.
    signs : sequence of str
        What the driver has met, in the words of a report.

    Raises
    ------
    ValueError
        If an input cannot be; a missing one is unknown and said so.
    """
    seen = look(now, rain, place)
    findings = list(seen.findings) + from_season(seen.findings, place.in_season, place.leafy)
    index = _worst(chain, findings)
    if index is None and seen.dry_is_known:
        findings = [Finding("dry", "dry", "no rain, and the air is far from its dew point")]
        index = _worst(chain, findings)
    worse = worsen(chain, index, signs)
    ordered = sorted(findings, key=lambda f: -chain.index(f.condition))
    reasons = (*worse.words, *(finding.words for finding in ordered))
    why = tuple(dict.fromkeys(finding.code for finding in ordered))
    if worse.index is None:
        return Suggestion(None, reasons, seen.unknown, False, why=why)
    beyond = worse.index > chain.worst_pickable
    return Suggestion(
        state=chain.keys[chain.picked(worse.index)],
        reasons=(BEYOND, *reasons) if beyond else reasons,
        unknown=seen.unknown,
        beyond=beyond,
        why=why,
    )


def _worst(chain: Chain, findings: Sequence[Finding]) -> int | None:
    return max((chain.index(finding.condition) for finding in findings), default=None)


def from_season(
    findings: Sequence[Finding], in_season: bool | None, leafy: bool | None
) -> list[Finding]:
    """Return what the leaf-fall season makes of a rail that is not dry.

    An unknown season counts as leaf-fall: the worse of the two.
    """
    if not findings or in_season is False:
        return []
    if leafy:
        return [Finding("leaf", "leaf", "moisture on a line with leaf fall")]
    if any(finding.wetting is Wetting.STEADY for finding in findings):
        words = "leaf-fall season: steady rain on leaf residue is not 'wet'"
        return [Finding("damp", "leaf-residue", words)]
    return []
