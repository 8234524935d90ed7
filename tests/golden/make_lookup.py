"""Write ``lookup.json``: a small invented pack and about 300 look-ups with answers.

Both languages run it: ``tests/webapp/packs/test_lookup.py`` in Python and the test of
``static/core/table.js`` in the browser's language. Run this file again only when the
pack's format changes: ``python tests/golden/make_lookup.py``.
"""

from __future__ import annotations

import json
import random
from pathlib import Path
from typing import Any

from webapp.lines.lookup import look_up

HERE = Path(__file__).parent
STATES = ("dry", "wet", "leaf", "very_low")
KNOTS = [5, 10, 15, 20, 30, 40, 60]


def base() -> dict[str, Any]:
    landmarks = [
        {"key": f"post-{i}", "name": f"{i} post", "kind": "post", "at_m": 402.3 * i}
        | {"directions": ["down", "up"], "words": f"{i} post"}
        for i in range(10)
    ]
    return {
        "format": "step-in-hand/base",
        "version": 1,
        "route": {"key": "golden", "dial": 5, "mark_limit_m": 300, "speed_unit": "mph"},
        "directions": [
            {"key": "down", "name": "Down", "sign": 1},
            {"key": "up", "name": "Up", "sign": -1},
        ],
        "targets": [
            _target("one/down", "down", [3300.5, 3320.5], list(range(9))),
            _target("two/down", "down", [3500.0, None], [2, 3, 5, 8]),
            _target("one/up", "up", [400.25, 380.25], list(range(9, 0, -1))),
        ],
        "landmarks": landmarks,
        "states": [{"key": key, "name": key} for key in STATES],
        "trains": [{"key": "four"}, {"key": "eight"}],
    }


def _target(key: str, direction: str, marks: list[Any], seen: list[int]) -> dict[str, Any]:
    return {"key": key, "direction": direction, "mark_m": marks, "landmarks": seen}


def table(rng: random.Random) -> dict[str, Any]:
    def nest(leaf: Any) -> list[Any]:
        return [
            [[[leaf(s, t, a, v) for v in range(2)] for a in range(4)] for t in range(3)]
            for s in range(2)
        ]

    status = nest(lambda s, t, a, v: [0] * 5 + [0 if a < 2 else 1, 0 if a < 3 else 2])
    return {
        "format": "step-in-hand/table",
        "version": 1,
        "base": "0" * 64,
        "knots": KNOTS,
        "columns": {
            "status": status,
            "brake": nest(lambda s, t, a, v: _brakes(rng, a + s, status[s][t][a][v])),
            "seconds": nest(lambda *_: sorted(rng.randrange(0, 41) for _ in KNOTS)),
            "cover": nest(
                lambda *_: [rng.choice([-1, 10 * rng.randrange(60)]) for _ in KNOTS]
            ),
            "usual": nest(lambda s, t, a, v: _brakes(rng, 0, [0] * 7)),
            "step": nest(lambda s, t, a, v: 1 if a < 2 else 0),
            "last_step": nest(lambda *_: 0),
            "run_in": nest(lambda *_: rng.choice([0, 10, 20])),
            "ease_at": nest(lambda *_: rng.choice([0, 15])),
            "aim_short": nest(lambda *_: rng.choice([0, 25, 100])),
            "flags": nest(lambda *_: rng.randrange(8)),
            "speeds": nest(lambda *_: [[rng.randrange(5), 40], [rng.randrange(5, 10), 20]]),
            "slick": nest(lambda s, t, a, v: [0.05, 0.03, 0.02, 0.01][a]),
        },
    }


def _brakes(rng: random.Random, worse: int, status: list[int]) -> list[int | None]:
    shift = rng.randrange(0, 40, 5)
    return [
        None if bad else 5 * round(v * v / (6 - worse) / 5) + shift
        for v, bad in zip(KNOTS, status, strict=True)
    ]


def queries(rng: random.Random, pack: dict[str, Any]) -> list[dict[str, Any]]:
    out = []
    for _ in range(300):
        ask = {
            "target": rng.randrange(3),
            "train": rng.randrange(2),
            "state": rng.randrange(4),
            "season": rng.randrange(2),
            "speed": rng.choice([rng.randrange(0, 66), round(rng.uniform(0, 62), 3)]),
        }
        out.append({"ask": ask, "answer": look_up(pack["base"], pack["table"], **ask)})
    return out


def main() -> None:
    rng = random.Random(20)
    pack: dict[str, Any] = {"base": base(), "table": table(rng)}
    pack["queries"] = queries(rng, pack)
    text = json.dumps(pack, ensure_ascii=False, allow_nan=False, separators=(",", ":"))
    (HERE / "lookup.json").write_text(text + "\n", encoding="utf-8")


if __name__ == "__main__":
    main()
