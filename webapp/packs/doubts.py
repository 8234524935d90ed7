"""What is odd in a route without being wrong: asked about until somebody confirms it.

A doubt is confirmed by name and reason in the route's own ``confirmed.csv``. Its code is a
hash of the rows it rests on, so that it is asked again when one of them changes.
"""

from __future__ import annotations

import hashlib
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, fields, is_dataclass
from typing import Any

import rfc8785

from webapp.packs.doubt_former import doubt_former
from webapp.packs.doubt_line import doubt_line
from webapp.packs.doubt_list import DoubtList, Odd
from webapp.packs.doubt_names import doubt_names
from webapp.packs.doubt_places import doubt_places
from webapp.packs.doubt_runs import doubt_runs
from webapp.packs.doubt_signals import doubt_signals
from webapp.packs.doubt_stock import doubt_stock
from webapp.packs.inferred import doubt_inferred
from webapp.packs.model import Confirmed, Route

CONFIRMED = "confirmed.csv"
#: Kinds of doubt that rest on something beside the route's files, or on a confirmation.
_PASSING = ("moved", "gone")


@dataclass(frozen=True, order=True)
class Doubt:
    """One doubt: where it is, what is odd, where to look, and who confirmed it."""

    file: str
    row: int
    column: str
    code: str
    message: str
    confirm: str
    """What to look at before it is confirmed or mended."""
    place: str
    fingerprint: str
    confirmed_by: str = ""
    confirmed_on: str = ""
    reason: str = ""

    @property
    def open(self) -> bool:
        return not self.confirmed_by

    def __str__(self) -> str:
        where = self.file
        if self.row:
            where += f", row {self.row}"
        if self.column:
            where += f", column {self.column}"
        return f"{where}: {self.message}. Look at {self.confirm}. Doubt {self.code}"


def doubts(route: Route, former: Mapping[str, Any] | None = None) -> list[Doubt]:
    """Return everything odd in a route, confirmed or not, in the order of its files.

    Parameters
    ----------
    former : mapping, optional
        The base file of the pack in use, to find what moved since.
    """
    found = DoubtList()
    doubt_line(route, found)
    doubt_signals(route, found)
    doubt_places(route, found)
    doubt_stock(route, found)
    doubt_runs(route, found)
    doubt_inferred(route, found)
    doubt_names(route, found)
    if former is not None:
        doubt_former(route, former, found)
    made = [_doubt(odd, route.confirmed) for odd in found]
    gone = DoubtList()
    for row in route.confirmed:
        _doubt_confirmed(row, made, gone)
    return sorted([*made, *(_doubt(odd, route.confirmed) for odd in gone)])


def _doubt(odd: Odd, confirmed: Sequence[Confirmed]) -> Doubt:
    content = [odd.kind, odd.file, odd.place, [_plain(thing) for thing in odd.rests_on]]
    fingerprint = hashlib.sha256(rfc8785.dumps(content)).hexdigest()
    code = f"{odd.kind}-{fingerprint[:8]}"
    said = next((row for row in confirmed if row.code == code), None)
    message = odd.message
    before = next((row for row in confirmed if _same_place(row, odd.kind, odd)), None)
    if said is None and before is not None:
        message += f" ({before.who} confirmed it on {before.on}; it has changed since)"
    return Doubt(
        *(odd.file, odd.row, odd.column, code, message, odd.look, odd.place, fingerprint),
        *((said.who, said.on, said.reason) if said else ()),
    )


def _plain(thing: Any) -> Any:
    """Return a record as its values, without the number of its row and what was left out."""
    if is_dataclass(thing):
        values = [(field, getattr(thing, field.name)) for field in fields(thing)]
        return {
            field.name: _plain(value)
            for field, value in values
            if field.name != "row" and value != field.default
        }
    if isinstance(thing, Mapping):
        return {str(key): _plain(value) for key, value in thing.items()}
    if isinstance(thing, tuple | list):
        return [_plain(one) for one in thing]
    return thing


def _same_place(row: Confirmed, kind: str, odd: Odd | Doubt) -> bool:
    return (row.file, row.place, _kind(row.code)) == (odd.file, odd.place, kind)


def _kind(code: str) -> str:
    return code.rpartition("-")[0]


def _doubt_confirmed(row: Confirmed, made: Sequence[Doubt], gone: DoubtList) -> None:
    """Ask about a confirmation that no row bears out any more: something went or changed."""
    kind = _kind(row.code)
    if kind in _PASSING or any(_same_place(row, _kind(one.code), one) for one in made):
        return
    gone.add(
        *("gone", CONFIRMED, row.row, "code"),
        f"{row.who} confirmed '{row.place}' in {row.file}, which has changed or is gone",
        f"{row.file}: is what stood there rightly gone",
        *(row.code, row),
    )
