"""The rail state that four questions propose: every answer in the pack, and its look-up.

Worked out by `calc.weather.asked`. The tablet looks the same table up with
`static/core/proposal.js`; `tests/static/test_proposal.py` holds the two against each other.
"""

from __future__ import annotations

from collections.abc import Mapping
from functools import lru_cache
from statistics import fmean
from typing import Any

from calc.weather.asked import QUESTIONS, Around, all_answers, around, propose
from calc.weather.chain import CONDITIONS, Chain
from webapp.packs.model import Route

Json = dict[str, Any]


def proposals_block(route: Route) -> Json:
    """Return the table of a route, or nothing where its chain lacks a state for a condition.

    A state stands for the condition that has its key: dry, wet, damp, frost, leaf.
    """
    chain = _chain(route)
    if chain is None:
        return {}
    latitude = round(fmean(point.lat for point in route.points), 1)
    # Nobody said whether leaves fall here: the worse of the two.
    leafy = route.settings.leaf_fall is not False
    return {"proposals": {"leafy": leafy, **_table(chain, latitude)}}


@lru_cache(maxsize=8)
def _table(chain: Chain, latitude: float) -> Json:
    """Return every proposal, the like rows once."""
    outcomes: dict[tuple[int, tuple[str, ...]], int] = {}
    rows: dict[tuple[int, ...], int] = {}

    @lru_cache
    def row(here: Around) -> int:
        found = [propose(chain, one, here) for one in all_answers()]
        numbers = tuple(outcomes.setdefault((p.index, p.why), len(outcomes)) for p in found)
        return rows.setdefault(numbers, len(rows))

    at = [
        [
            [row(around(month, hour, leafy, latitude)) for hour in range(24)]
            for month in range(1, 13)
        ]
        for leafy in (False, True)
    ]
    return {
        "looked_below": chain.index("damp"),
        "questions": [{"key": key, "answers": list(answers)} for key, answers in QUESTIONS],
        "outcomes": [{"state": chain.keys[i], "why": list(why)} for i, why in outcomes],
        "rows": [list(numbers) for numbers in rows],
        "at": at,
    }


def _chain(route: Route) -> Chain | None:
    try:
        return Chain(
            keys=tuple(state.key for state in route.states),
            pickable=tuple(state.pickable for state in route.states),
            means=tuple((condition, condition) for condition in CONDITIONS),
        )
    except ValueError:
        return None


def proposed(
    base: Mapping[str, Any],
    answers: Mapping[str, str],
    when: tuple[int, int] | None,
    leafy: bool | None = None,
) -> Json | None:
    """Look a proposal up as the tablet does.

    Parameters
    ----------
    base : mapping
        Base file of a pack.
    answers : mapping
        Question to answer; while one is missing or not known here, nothing is proposed.
    when : (int, int) or None
        Month, 1 to 12, and hour, 0 to 23; None where nobody knows the time: the worst of all.
    leafy : bool, optional
        As the pack says, unless given.

    Returns
    -------
    dict or None
        ``{"state": key, "why": [reasons]}``; None: nothing is proposed.
    """
    table = base.get("proposals")
    column = None if table is None else _column(table, answers)
    if table is None or column is None:
        return None
    hours = table["at"][int(table["leafy"] if leafy is None else leafy)]
    if when is not None:
        return _outcome(table, hours[when[0] - 1][when[1]], column)
    order = [state["key"] for state in base["states"]]
    found = [_outcome(table, row, column) for month in hours for row in month]
    return max(found, key=lambda one: order.index(one["state"]))


def _column(table: Mapping[str, Any], answers: Mapping[str, str]) -> int | None:
    number = 0
    for question in table["questions"]:
        given = answers.get(question["key"])
        if given not in question["answers"]:
            return None
        number = number * len(question["answers"]) + question["answers"].index(given)
    return number


def _outcome(table: Mapping[str, Any], row: int, column: int) -> Json:
    outcome: Json = table["outcomes"][table["rows"][row][column]]
    return outcome
