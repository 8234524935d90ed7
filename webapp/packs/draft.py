"""A route while it is being read: what is there so far, perhaps with faults."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Any, cast

from webapp.packs import model
from webapp.packs.levels import filled

Row = tuple[dict[str, Any], int]


@dataclass
class Draft:
    """Collects records by file; ``whole`` names the files that could be read at all.

    ``keys`` keeps the first column of every row, faulty ones too, so that one bad
    cell does not make every reference to its row look wrong.
    """

    records: dict[str, list[Any]] = field(default_factory=dict)
    keys: dict[str, set[str]] = field(default_factory=dict)
    names: dict[str, list[tuple[str, str]]] = field(default_factory=dict)
    """By file, (a name or words as written, the key of that row)."""
    whole: set[str] = field(default_factory=set)
    one: dict[str, dict[str, Any] | None] = field(default_factory=dict)
    many: dict[str, list[Row]] = field(default_factory=dict)
    types: list[model.TrainType] = field(default_factory=list)
    states: list[model.State] = field(default_factory=list)
    points: list[model.Point] = field(default_factory=list)
    generated: list[model.Landmark] = field(default_factory=list)
    words: dict[str, dict[str, str]] = field(default_factory=dict)

    def keep_one(self, name: str, table: dict[str, Any] | None) -> None:
        self.one[name] = table

    def keep_many(self, name: str, rows: list[Row]) -> None:
        self.many[name] = rows

    @property
    def dial(self) -> int:
        head = self.one.get("route")
        return int(head["dial"]) if head else 5

    @property
    def distance_unit(self) -> model.DistanceUnit:
        head = self.one.get("route")
        return cast(model.DistanceUnit, head["distance_unit"] if head else "km")

    @property
    def settings(self) -> model.Settings | None:
        table = self.one.get("settings")
        return model.Settings(**table) if table else None

    @property
    def directions(self) -> list[model.Direction]:
        return [
            model.Direction(d["key"], d["name"], 1 if d["sign"] == "rising" else -1)
            for d, _ in self.many.get("direction", [])
        ]

    def rows(self, file: str) -> list[Any]:
        return self.records.get(file, [])

    @property
    def gradients(self) -> list[model.Gradient]:
        return self.rows("gradients.csv")

    def route(self) -> model.Route:
        """Freeze the draft; only called when there is no fault."""
        head, physics = cast(Any, self.one["route"]), cast(Any, self.one["physics"])
        lists = {
            name: tuple(value) for name, value in physics.items() if isinstance(value, list)
        }
        files: tuple[str, ...] = (
            "stations",
            "stops",
            "marks",
            "not_past",
            "gradients",
            "speeds",
        )
        files += ("trips", "calls", "signals", "brake_tests", "doors", "names")
        files += ("heights", "confirmed")
        rows = {name: tuple(self.rows(f"{name}.csv")) for name in files}
        posts = cast(Any, self.one["posts"])
        return model.Route(
            head=model.Head(
                **head, line_from=self.gradients[0].start, line_to=self.gradients[-1].end
            ),
            directions=tuple(self.directions),
            posts=model.Posts(every=posts["every"]),
            settings=cast(model.Settings, self.settings),
            physics=model.Physics(**filled(physics | lists)),
            assumptions=tuple(model.Assumption(**a) for a, _ in self.many["assumption"]),
            landmarks=tuple([*self.rows("landmarks.csv"), *self.generated]),
            listed=tuple(self.rows("listed.csv")),
            states=tuple(self.states),
            types=tuple(self.types),
            points=tuple(self.points),
            words=self.words,
            **rows,
        )
