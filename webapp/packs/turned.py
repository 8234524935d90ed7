"""Turn a route into the calculation's input, one direction of travel at a time.

``z`` grows forward, so that the falling direction is laid out backwards from the far
end of the line, with every gradient's sign changed.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from calc.model import BrakeStep, Line, RailState, Settings, TableInput, Target, Train
from calc.units import deceleration_from_percent_g, speed_from_kmh
from webapp.packs.axes import PackTarget, TrainVariant
from webapp.packs.model import Direction, Route, State


@dataclass(frozen=True)
class Turn:
    """Maps places on the line to distance along the direction of travel. [m]"""

    sign: int
    origin: float

    def z(self, at: float) -> float:
        return self.sign * (at - self.origin)

    def stretch(self, start: float, end: float) -> tuple[float, float]:
        low, high = sorted((self.z(start), self.z(end)))
        return low, high


def turn_for(route: Route, direction: Direction) -> Turn:
    head = route.head
    return Turn(direction.sign, head.line_from if direction.sign > 0 else head.line_to)


def table_input(
    route: Route,
    direction: Direction,
    trains: tuple[TrainVariant, ...],
    targets: tuple[PackTarget, ...],
) -> TableInput:
    """Return one direction of the route for ``calc.table.build_table``."""
    turn = turn_for(route, direction)
    fastest = max(train.type.max_speed for train in trains)
    return TableInput(
        line=line_ahead(route, direction),
        targets=tuple(_target(target, turn, route.head.mps) for target in targets),
        trains=tuple(train_as_planned(train, route.head.mps) for train in trains),
        states=tuple(_state(state) for state in route.states),
        speeds=tuple(unit * route.head.mps for unit in range(1, fastest + 1)),
        settings=_settings(route),
    )


def line_ahead(route: Route, direction: Direction) -> Line:
    """Return the line in one direction of travel."""
    turn = turn_for(route, direction)
    grades = sorted(
        (turn.stretch(g.start, g.end)[0], direction.sign * g.ratio) for g in route.gradients
    )
    speeds = sorted(
        (turn.stretch(s.start, s.end)[0], s.speed * route.head.mps)
        for s in route.speeds
        if s.direction == direction.key
    )
    index = {state.key: number for number, state in enumerate(route.states)}
    listed = tuple(
        (*turn.stretch(place.start, place.end), index[place.state], bool(place.season_from))
        for place in route.listed
        if place.direction == direction.key
    )
    return Line(
        gradient_from=tuple(start for start, _ in grades),
        gradient=tuple(ratio for _, ratio in grades),
        limit_from=tuple(start for start, _ in speeds),
        limit_speed=tuple(speed for _, speed in speeds),
        end=route.head.line_to - route.head.line_from,
        listed=listed,
    )


def _target(target: PackTarget, turn: Turn, mps: float) -> Target:
    def place(at: float | None) -> float:
        return math.nan if at is None else turn.z(at)

    return Target(
        key=target.key,
        mark=tuple(place(mark) for mark in target.marks),
        limit=tuple(place(limit) for limit in target.limits),
        to_speed=target.to_speed * mps,
        start=place(target.start),
    )


def train_as_planned(variant: TrainVariant, mps: float) -> Train:
    """Return a train with the figures that plans are made with."""
    kind, formation = variant.type, variant.formation
    steps = tuple(
        BrakeStep(
            name=step.name,
            speeds=tuple(speed * mps for speed, _ in step.rates),
            rates=tuple(deceleration_from_percent_g(rate) for _, rate in step.rates),
            wheelset_share=step.wheelset_share,
        )
        for step in kind.steps
    )
    return Train(
        key=variant.key,
        length=formation.length_m,
        mass=formation.mass_t * 1000.0,
        rotating=kind.rotating_percent / 100.0,
        resistance=formation.resistance,
        steps=steps,
        usual_step=[step.name for step in kind.steps].index(kind.usual_step),
        dead_time=kind.dead_time_s,
        ramp=kind.build_up_mps3,
        release_ramp=kind.release_mps3,
        max_speed=kind.max_speed * mps,
        acceleration=kind.acceleration_mps2,
        isolated_share=variant.isolated / formation.cars,
    )


def _state(state: State) -> RailState:
    return RailState(
        key=state.key,
        plan=state.plan,
        slick=state.slick,
        shape_speeds=tuple(speed_from_kmh(speed) for speed in state.shape_speeds_kmh),
        shape_factors=state.shape_factors,
        cover_aim=state.cover_aim_m,
        pickable=state.pickable,
    )


def _settings(route: Route) -> Settings:
    physics = route.physics
    return Settings(
        eta=physics.eta,
        reaction=physics.reaction_s,
        least_deceleration=physics.least_deceleration_mps2,
        seconds_cap=physics.seconds_cap_s,
        run_in_speeds=tuple(unit * route.head.mps for unit in physics.run_in_speeds),
        aim_short=physics.aim_short_m,
        quiet_from=_quiet_from(route),
        brake_share=physics.brake_share,
        strongest_share=physics.strongest_share,
        late=physics.late_s,
        slow=physics.slow_s,
        # Never above eta, or cover would count on more in a slide than before one.
        slide_eta=min(physics.slide_eta, physics.eta),
    )


def _quiet_from(route: Route) -> int:
    """Return the index of the first state that is to be quiet one state worse; -1: none is."""
    named = route.physics.quiet_one_worse_from
    keys = [state.key for state in route.states]
    return keys.index(named) if named in keys else -1
