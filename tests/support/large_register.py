"""What a depot's registers hold after three seasons: places, treatments, restrictions, seals.

A part of `large_depot`, which draws and writes the rows.
"""

from __future__ import annotations

import uuid
from collections.abc import Iterator
from datetime import timedelta
from typing import TYPE_CHECKING, Any

from tests.support.seals import hashed
from webapp.records.places.models import DeclinedPlace, ListedPlace, Treatment
from webapp.records.restrictions.models import Restriction
from webapp.records.seals import Seal, SealedReport
from webapp.store.db import Base

if TYPE_CHECKING:
    from tests.support.large_depot import Seed

Json = dict[str, Any]
Rows = Iterator[tuple[type[Base], Json]]
WHO = "j.seeded"
YEAR = timedelta(days=365)


def registers(seed: Seed, first_seal: int) -> Rows:
    """Draw the rows of all registers."""
    yield from _places(seed)
    yield from _declined(seed)
    yield from _restrictions(seed)
    yield from _seals(seed, first_seal)


def _stretch(seed: Seed) -> Json:
    """Some of a line, before a stop, in one direction."""
    line = seed.luck.choice(sorted(seed.lines))
    target = seed.luck.choice([one for one in seed.lines[line]["targets"] if one["place"]])
    mark = float(next(mark for mark in target["mark_m"] if mark is not None))
    low = mark - seed.luck.uniform(300, 900)
    where = {"line_key": line, "direction": target["direction"]}
    return {**where, "from_m": low, "to_m": low + 250}


def _places(seed: Seed) -> Rows:
    """The last ones retired; each listed one treated through three autumns."""
    sizes, treated = seed.sizes, 0
    for n in range(sizes.places + sizes.retired):
        where, name, gone = _stretch(seed), seed.name(), n >= sizes.places
        state = seed.luck.choice(seed.lines[where["line_key"]]["states"][1:])["key"]
        yield (
            ListedPlace,
            {
                **{"id": name, "rev": 2 if gone else 1, **where, "key": name.hex},
                **{"name": f"cutting {n:03}", "state": state, "reason": "trees on both sides"},
                **{"season_from": "10-01", "season_to": "12-13", "source": "seeded"},
                **{"changed_at": seed.now - YEAR, "changed_by": WHO},
                **{"retired_at": seed.now - YEAR if gone else None},
                **{"retired_why": "trees felled" if gone else ""},
            },
        )
        share = 0 if gone else sizes.treatments * (n + 1) // sizes.places - treated
        treated += share
        for day in range(share):
            yield Treatment, _treatment(seed, name, day)


def _treatment(seed: Seed, place: uuid.UUID, day: int) -> Json:
    """One treatment a day, the days of one autumn after those of another."""
    done = seed.now - YEAR * (day // 70) - timedelta(days=day % 70, minutes=30)
    return {
        **{"id": seed.name(), "place_id": place, "done_at": done, "kept_at": done},
        **{
            "means": "train",
            "outcome": seed.luck.choices(("done", "failed", "missed"), (8, 1, 1))[0],
        },
        **{"next_line": "yes", "told_by": "control", "note": "", "kept_by": WHO},
    }


def _declined(seed: Seed) -> Rows:
    for _ in range(seed.sizes.declined):
        at = seed.now - seed.luck.uniform(0.1, 3) * YEAR
        said = {"reports": 5, "reason": "wet wheels", "declined_at": at, "declined_by": WHO}
        yield DeclinedPlace, {"id": seed.name(), **_stretch(seed), **said}


def _restrictions(seed: Seed) -> Rows:
    """The ended ones, then the live ones, one in five past its end, then those to come."""
    sizes, day = seed.sizes, timedelta(days=1)
    kinds = (
        ["ended"] * sizes.slow_ended + ["live"] * sizes.slow + ["to come"] * sizes.slow_ahead
    )
    for n, kind in enumerate(kinds):
        begun = {"ended": seed.now - YEAR * 3 + day * (n % 1_000), "live": seed.now - day * 5}
        from_at = begun.get(kind, seed.now + day * 2)
        until = from_at + day * (4 if kind == "live" and n % 5 == 0 else 20)
        ended = kind == "ended"
        yield (
            Restriction,
            {
                **{"id": seed.name(), "rev": 2 if ended else 1, **_stretch(seed)},
                **{"speed": 20, "unit": "mph", "speed_mps": 8.9408},
                **{"from_at": from_at, "until_at": until, "reference": f"notice {n}"},
                **{"told_by": "control", "changed_at": from_at, "changed_by": WHO},
                **{"ended_at": until if ended else None},
                **{"ended_told_by": "control" if ended else ""},
                **{"ended_why": "mended" if ended else ""},
            },
        )


def _seals(seed: Seed, first: int) -> Rows:
    """Each names a report that came and one that did not."""
    for n in range(seed.sizes.seals):
        name, line = seed.name(), seed.luck.choice(sorted(seed.lines))
        at = seed.now - YEAR * 3 + YEAR * 3 * n / max(1, seed.sizes.seals)
        named = [seed.luck.choice(seed.named) if seed.named else seed.name(), seed.name()]
        body = {
            **{"sealed_at": at.isoformat(), "app_build": "0123456789abcdef", "route": line},
            **{
                "pack": seed.packs[line],
                "warnings": [],
                "card": [f"line {k}" for k in range(40)],
            },
            **{"preparation": {"sand": "full", "cars": 4}, "clock_offset_s": 0},
            "unsent": sorted(map(str, named)),
        }
        kept = {"sealed_est_at": at, "received_at": at, "quarantined": False}
        sha = {"payload_sha": f"{name.hex}{name.hex}"}
        yield Seal, {"no": first + n, "id": name, **sha, "body": hashed(body), **kept}
        for one in named:
            yield SealedReport, {"seal_no": first + n, "report_id": one}
