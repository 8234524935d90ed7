"""A pack of format version 1 that the app can really open: one line, two stops, one train.

Its figures are invented and come from no calculation; nothing here may be driven by.
"""

from __future__ import annotations

import gzip
import hashlib
import random
from typing import Any

import rfc8785

from tests.support.fake_pack import FakeFile, FakePack

STATES = (
    ("dry", "Dry", 0.15, True),
    ("damp", "Damp", 0.07, True),
    ("leaf", "Leaf film", 0.05, False),
)
SLIDE = "Sliding: hold step 2. Not slowing as it should: EMERGENCY, hold to a stand."
KNOTS = [20, 40, 60]


def small_pack(
    route: str = "larch-valley",
    name: str = "Larch Valley",
    fillers: tuple[int, ...] = (2_000,),
    changed: dict[str, Any] | None = None,
) -> FakePack:
    """Build a whole pack; each filler adds a file of about so many bytes that hardly pack.

    ``changed`` stands in its base in place of what would; its table stays as it is.
    """
    base = _file("base", {**_base(route, name), **(changed or {})})
    table = _file("table", _table(base.sha256))
    pictures = [
        _file("pictures", _pictures(base.sha256, n, size)) for n, size in enumerate(fillers)
    ]
    names = ["base", "table", *(f"pictures-unit-{4 + n}" for n in range(len(pictures)))]
    files = [base, table, *pictures]
    listed = [
        {"kind": file.kind, "name": called, "sha256": file.sha256}
        | {"bytes": file.size, "gz_bytes": len(file.gz)}
        for called, file in zip(names, files, strict=True)
    ]
    manifest = {"format": "step-in-hand/manifest", "version": 1, "route": route, "name": name}
    first = _file("manifest", {**manifest, "files": listed})
    return FakePack(route, name, first.sha256, (first, *files))


def _file(kind: str, content: object) -> FakeFile:
    plain = rfc8785.dumps(content)  # type: ignore[arg-type]
    sha = hashlib.sha256(plain).hexdigest()
    return FakeFile(kind, sha, len(plain), gzip.compress(plain, 9, mtime=0))


def _base(route: str, name: str) -> dict[str, Any]:
    return {
        "format": "step-in-hand/base",
        "version": 1,
        "route": {
            **{"key": route, "name": name, "speed_unit": "mph", "distance_unit": "mi-ch"},
            **{"mps_per_unit": 0.44704, "dial": 5, "mark_limit_m": 600},
            "datum": "from the buffers at Old Larch",
        },
        "directions": [
            {"key": "down", "name": "Down, to Quarry Halt", "sign": 1},
            {"key": "up", "name": "Up, to Old Larch", "sign": -1},
        ],
        "places": [
            {"key": "old-larch", "name": "Old Larch", "kind": "terminus", "at_m": 0},
            {"key": "fern-mill", "name": "Fern Mill", "kind": "station", "at_m": 4000},
            {"key": "quarry-halt", "name": "Quarry Halt", "kind": "station", "at_m": 8000},
        ],
        "targets": [
            _target("fern-mill", "Fern Mill", 4000),
            _target("quarry-halt", "Quarry Halt", 8000),
        ],
        "landmarks": [
            {"key": f"post-{n}", "name": f"{n} post", "kind": "post", "at_m": 400 * n}
            | {"directions": ["down"], "words": f"{n} post"}
            for n in range(21)
        ],
        "gradients": [[0, 8200, 0]],
        "limits": {"down": [[0, 8200, 60]]},
        "listed": [],
        "states": [
            {"key": key, "name": called, "plan": plan, "slick": 0.03, "basis": "invented"}
            | {"pickable": pickable}
            for key, called, plan, pickable in STATES
        ],
        "trains": [
            {
                **{"key": "unit-4", "type": "unit", "type_name": "Unit", "formation": "4"},
                **{"cars": 4, "length_m": 80, "isolated_cars": 0, "name": "Unit, 4 cars"},
                **{"steps": ["1", "2", "3"], "usual_step": 1, "older": False},
                "slide_words": SLIDE,
            }
        ],
        "trips": [
            {
                **{"key": "d0700", "name": "07:00 to Quarry Halt", "direction": "down"},
                **{"train_type": "unit", "formation": "4"},
                "starts": {"place": "old-larch", "depart": "07:00"},
                "calls": [
                    {
                        "target": "fern-mill/down",
                        "arrive": "07:05",
                        "depart": "07:06",
                        "note": "",
                    },
                    {
                        "target": "quarry-halt/down",
                        "arrive": "07:11",
                        "depart": "07:12",
                        "note": "",
                    },
                ],
            }
        ],
        "geometry": [[-20, 44, 0], [-20, 44.072, 8000], [-20, 44.0738, 8200]],
        "settings": {
            **{"moving_glance": {"on": True, "approver": "invented"}, "rail_state_hours": 4},
            **{"walking_speed_mps": 1.4, "short_stop_m": 5, "isolated_limit_share": 0.25},
            **{
                "reduction_card_seconds": 10,
                "trip_allowance_words": "Allow {minutes} min more.",
            },
        },
        "assumptions": [{"what": "all", "value": "invented", "basis": "a test"}],
        "words": {f"W{n}": "as the company signed it" for n in range(1, 11)},
    }


def _target(place: str, name: str, mark: int) -> dict[str, Any]:
    return {
        **{"key": f"{place}/down", "kind": "stop", "place": place, "name": name},
        **{"direction": "down", "platform": "1", "mark_m": [mark], "limit_m": [mark + 30]},
        **{"limit_kind": "platform end", "platform_from_m": mark - 120},
        **{"platform_to_m": mark + 30, "to_speed": 0, "approach_speed": [60]},
        **{"reach_m": [2400], "landmarks": list(range(21)), "listed": [], "words": name},
        "note": None,
    }


def _table(base: str) -> dict[str, Any]:
    def nest(leaf: Any) -> Any:
        """Two seasons, two targets, each state, one train."""
        return [[[[leaf(n)] for n in range(len(STATES))] for _ in range(2)] for _ in range(2)]

    columns = {
        "status": nest(lambda n: [0, 0, 0]),
        "brake": nest(lambda n: [300 + 200 * n, 700 + 300 * n, 1100 + 400 * n]),
        "seconds": nest(lambda n: [2 * n, 5 * n, 10 * n]),
        "cover": nest(lambda n: [100, 100, 100]),
        "usual": nest(lambda n: [250, 600, 1000]),
        "step": nest(lambda n: 1 if n == 0 else 0),
        "last_step": nest(lambda n: 0),
        "run_in": nest(lambda n: 0),
        "ease_at": nest(lambda n: 0),
        "aim_short": nest(lambda n: 0),
        "flags": nest(lambda n: 0),
        "speeds": nest(lambda n: []),
        "slick": nest(lambda n: 0.03),
        "approach": nest(lambda n: 60),
    }
    head = {"format": "step-in-hand/table", "version": 1, "base": base, "knots": KNOTS}
    return {**head, "columns": columns}


def _pictures(base: str, n: int, size: int) -> dict[str, Any]:
    """A file of the right format for a train nobody drives; unknown fields are ignored."""
    return {
        **{"format": "step-in-hand/pictures", "version": 1, "base": base},
        **{"train": f"unit-{4 + n}", "spacing_m": 50, "usual": [], "advised": []},
        **{"ceiling": [], "cover_by_onset": []},
        "filler": random.Random(n).randbytes(size // 2).hex(),
    }
