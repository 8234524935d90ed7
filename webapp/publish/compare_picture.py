"""One card's approach before and after, drawn over each other."""

from __future__ import annotations

import math

from sqlalchemy.orm import Session

from webapp.lines import in_use
from webapp.lines.picture import advised_curve
from webapp.packs.compare import Advice, Card, StopChange
from webapp.plain.drawing import Frame, Picture, Stem, Stroke


def draw(session: Session, former: str, pack: str, one: StopChange) -> Picture | None:
    """Draw the worst card of a stop; None where neither pack has a curve there."""
    card = one.worst
    drawn: list[tuple[str, str, Advice | None, list[tuple[float, float]]]] = []
    for words, kind, sha, advice in (
        ("in use now", "solid", former, card.old),
        ("proposed", "dashed", pack, card.new),
    ):
        drawn.append((words, kind, advice, _curve(session, sha, card) if advice else []))
    points = [pair for *_rest, pairs in drawn for pair in pairs]
    if not points:
        return None
    base = in_use.base(session, pack)
    unit, dial = base.speed_words, base.dial
    begins = [advice.brake for _w, _k, advice, _p in drawn if advice]
    far = max(400.0, 1.15 * max(begins, default=400))
    fastest = max(speed for metres, speed in points if -metres <= far)
    frame = Frame((-far, 0.0), (math.floor(fastest / dial / 2) + 1) * dial * 2)
    return Picture(
        key=f"{one.kind}-{one.key.replace('/', '-')}",
        title=f"{one.name}: {card.case}",
        text=f"Speed in {unit} over metres from the stop mark. " + " ".join(
            f"{words}: begins {advice.brake} m before the stop mark." if advice
            else f"{words}: no advice."
            for words, _kind, advice, _pairs in drawn
        ),
        across="metres from the stop mark",
        strokes=tuple(
            Stroke(words, kind, frame.line([pair for pair in pairs if -pair[0] <= far]))
            for words, kind, _advice, pairs in drawn
            if pairs
        ),
        x_ticks=frame.x_ticks(_step(far)),
        y_ticks=frame.y_ticks(dial * (4 if frame.top > dial * 10 else 2)),
        unit=unit,
        stems=stems([
            (frame.x(-advice.brake), words) for words, _kind, advice, _p in drawn if advice
        ]),
    )  # fmt: skip


def stems(places: list[tuple[float, str]]) -> tuple[Stem, ...]:
    """Name where each begins, so that the line of one never crosses the word of the other."""
    places = sorted(places)
    # On the left half a word goes to the right of its line: the line on the left is higher.
    if places and Stem(*places[0], 0).anchor == "start":
        places.reverse()
    return tuple(Stem(at, words, row) for row, (at, words) in enumerate(places))


def _step(far: float) -> int:
    return next((one for one in (100, 200, 500, 1000) if far / one <= 6), 2000)


def _curve(session: Session, sha: str, card: Card) -> list[tuple[float, float]]:
    """Return (metres from the mark, speed) of the advised curve up to its brake point."""
    base = in_use.base(session, sha)
    pictures = in_use.pictures(session, sha, card.train_key)
    train, stop, state = (
        [one.key for one in rows].index(key)
        for rows, key in (
            (base.trains, card.train_key),
            (base.targets, card.stop),
            (base.states, card.state_key),
        )
    )
    season = card.season if base.targets[stop].listed else 0
    return advised_curve(pictures, (season, stop, state, train))
