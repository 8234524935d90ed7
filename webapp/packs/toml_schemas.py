"""What route.toml, trains.toml and rail_states.toml may hold, as marshmallow schemas."""

from __future__ import annotations

from typing import Any

from marshmallow import RAISE, Schema, ValidationError, fields, validates

from webapp.packs.fields import Distance, Key, Number, Text, Whole, cut, fault
from webapp.packs.fixed_words import LONGEST, softened
from webapp.packs.levels import KEYS
from webapp.packs.model import DistanceUnit

DISTANCE_UNITS = ("mi-ch", "km")
SPEED_UNITS = ("mph", "kmh")
SIGNS = ("rising", "falling")


class Strict(Schema):
    class Meta:
        unknown = RAISE


class Truth(fields.Field[bool]):
    def _deserialize(self, value: Any, attr: Any, data: Any, **kwargs: Any) -> bool:
        if not isinstance(value, bool):
            raise fault(f"'{cut(value)}' is neither true nor false", "write true or false")
        return value


class RouteHead(Strict):
    key = Key()
    name = Text()
    distance_unit = Text(choices=DISTANCE_UNITS)
    speed_unit = Text(choices=SPEED_UNITS)
    dial = Whole(5, 10, step=5, unit="posted units")
    mark_limit_m = Number(50, 2000, unit="m")
    datum = Text()


class DirectionTable(Strict):
    key = Key()
    name = Text()
    sign = Text(choices=SIGNS)


class MayBeLeftOut(Number):
    """A number with a value of its own where the file says nothing."""

    def __init__(self, low: float, high: float, otherwise: float, unit: str = "") -> None:
        super().__init__(low, high, unit=unit)
        self.required, self.load_default = False, otherwise


class SettingsTable(Strict):
    moving_glance = Truth(required=True)
    moving_glance_approver = Text(empty=True)
    rail_state_hours = Number(0.5, 24, unit="h")
    walking_speed_mps = Number(0.5, 3, unit="m/s")
    short_stop_m = Number(0, 50, unit="m")
    isolated_limit_share = Number(0, 0.5)
    reduction_card_seconds = Whole(0, 600, unit="s")
    reduction_drop = Whole(5, 200, unit="posted units")
    buffer_gap_m = Number(0, 20, unit="m")
    trip_allowance_words = Text()
    mark_here = Truth(load_default=False)
    cover_figure_m = MayBeLeftOut(0, 1000, 150.0, unit="m")
    leaf_fall = Truth(load_default=None)


class StateKey(Key):
    """The key of a rail state, or nothing."""

    def __init__(self) -> None:
        super().__init__()
        self.required, self.load_default = False, ""


class LevelKey(Text):
    """The key of a level of room, or nothing."""

    def __init__(self) -> None:
        super().__init__(choices=KEYS)
        self.required, self.load_default = False, ""


class PhysicsTable(Strict):
    eta = Number(0, 1, above=True)
    reaction_s = Number(0, 10, unit="s")
    least_deceleration_mps2 = Number(0, 1, above=True, unit="m/s2")
    seconds_cap_s = Number(0, 600, above=True, unit="s")
    run_in_speeds = fields.List(Whole(5, 80, step=5, unit="posted units"), required=True)
    aim_short_m = fields.List(Number(0, 1000, above=True, unit="m"), required=True)
    quiet_one_worse_from = StateKey()
    brake_share = MayBeLeftOut(0.5, 1, 1.0)
    strongest_share = MayBeLeftOut(1, 1.5, 1.0)
    late_s = MayBeLeftOut(0, 5, 0.0, unit="s")
    slow_s = MayBeLeftOut(0, 3, 0.0, unit="s")
    slide_eta = MayBeLeftOut(0, 1, 0.0)
    room = LevelKey()


class AssumptionTable(Strict):
    what = Text()
    value = Text()
    basis = Text()


def route_file(unit: DistanceUnit) -> dict[str, tuple[Schema, bool]]:
    """Return the tables of route.toml: schema, and whether the table is repeated."""
    posts = Strict.from_dict({"every": Distance(unit)}, name="PostsTable")
    return {
        "route": (RouteHead(), False),
        "direction": (DirectionTable(), True),
        "posts": (posts(), False),
        "settings": (SettingsTable(), False),
        "physics": (PhysicsTable(), False),
        "assumption": (AssumptionTable(), True),
    }


class FixedText(Text):
    """One of the fixed words as the company signed it: translated, never softened."""

    def __init__(self, language: str, code: str) -> None:
        super().__init__()
        self.required = False
        self.language, self.code = language, code

    def _deserialize(self, value: Any, attr: Any, data: Any, **kwargs: Any) -> str:
        text = super()._deserialize(value, attr, data, **kwargs)
        wrong = softened(self.language, self.code, text)
        if wrong:
            raise ValidationError(wrong)
        return text


def words_table(language: str) -> Schema:
    """Return the table of words.toml for a language; each sentence may be left out."""
    names: dict[str, Any] = {code: FixedText(language, code) for code in LONGEST}
    return Strict.from_dict(names, name=f"Words{language.capitalize()}Table")()


class StateTable(Strict):
    key = Key()
    name = Text()
    plan = Number(0, 0.4, above=True)
    slick = Number(0, 0.4, above=True)
    cover_aim_m = Number(0, 2000, unit="m")
    pickable = Truth(required=True)
    basis = Text()
    shape_speeds_kmh = fields.List(Number(0, 400, unit="km/h"), load_default=[0.0])
    shape_factors = fields.List(Number(0, 1, above=True), load_default=[1.0])


class StepTable(Strict):
    name = Text()
    rates = fields.List(fields.List(Number(0, 400)), required=True)
    wheelset_share = Number(0, 1, above=True)

    @validates("rates")
    def rates_are_pairs(self, value: list[list[float]], **kwargs: Any) -> None:
        pairs = [pair for pair in value if len(pair) == 2 and 0 < pair[1] <= 25]
        speeds = [pair[0] for pair in pairs]
        if not value or len(pairs) != len(value) or speeds != sorted(set(speeds)):
            raise ValidationError(
                "rates are not pairs of a rising speed and a rate of 0 to 25 %g"
                " | write [[0, 3.0], [75, 2.8]]: posted speed, then %g"
            )


class FormationTable(Strict):
    key = Key()
    cars = Whole(1, 20)
    length_m = Number(5, 500, unit="m")
    mass_t = Number(5, 2000, unit="t")
    resistance = fields.List(Number(0, 1e6), required=True)

    @validates("resistance")
    def three_terms(self, value: list[float], **kwargs: Any) -> None:
        if len(value) != 3:
            raise fault(
                f"{len(value)} numbers are not A, B and C",
                "give A [N], B [N/(m/s)], C [N/(m/s)2]",
            )


class TrainTypeTable(Strict):
    key = Key()
    name = Text()
    older = Truth(required=True)
    max_speed = Whole(10, 400, unit="posted units")
    dead_time_s = Number(0, 5, unit="s")
    build_up_mps3 = Number(0, 5, above=True, unit="m/s3")
    release_mps3 = Number(0, 5, above=True, unit="m/s3")
    rotating_percent = Number(0, 30, unit="%")
    acceleration_mps2 = Number(0, 3, above=True, unit="m/s2")
    usual_step = Text()
    slide_words = Text()
    step = fields.List(fields.Nested(StepTable), required=True)
    formation = fields.List(fields.Nested(FormationTable), required=True)
    basis = fields.Dict(keys=fields.String(), values=fields.String(), required=True)


#: Numbers of a train type that need a source or a stated assumption.
NEED_BASIS = (
    *("max_speed", "dead_time_s", "build_up_mps3", "release_mps3", "rotating_percent"),
    *("acceleration_mps2", "rates", "wheelset_share", "length_m", "mass_t", "resistance"),
)
