"""Doubts about ``names.csv``: words that nothing on the line is called."""

from __future__ import annotations

from webapp.packs.axes import target_axis, train_axis
from webapp.packs.base_file import Reach, base_file
from webapp.packs.doubt_list import DoubtList
from webapp.packs.model import Route
from webapp.packs.names import pattern, texts

#: Rows that are named before the rest are only counted.
NAMED = 5


def doubt_names(route: Route, found: DoubtList) -> None:
    """Ask once about the rows that put nothing in other words: mostly slips of the pen."""
    if not route.names:
        return
    trains = train_axis(route)
    targets = target_axis(route, trains)
    nowhere = Reach((0,) * len(trains), (0,) * len(trains))
    shown = set(texts(base_file(route, trains, targets, (nowhere,) * len(targets))))
    idle = [
        name
        for name in route.names
        if not any(pattern(name.words).fullmatch(text) for text in shown)
    ]
    if idle:
        words = ", ".join(f"'{name.words}' (row {name.row})" for name in idle[:NAMED])
        more = f" and {len(idle) - NAMED} more" if len(idle) > NAMED else ""
        found.add(
            *("name", "names.csv", idle[0].row, "words"),
            f"nothing on this line is called {words}{more}",
            "the words as the tablet shows them",
            "names",
            *idle,
        )
