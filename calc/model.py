"""What the calculation is told: trains, rail states, the line ahead, the targets.

Everything is SI. ``z`` is the distance along the line in the direction of travel [m],
growing forward; a route read from files is turned round for the other direction before
it comes here. Gradients rise positive [ratio]. Adhesion is a number without unit.
"""

from __future__ import annotations

from dataclasses import dataclass, field


@dataclass(frozen=True)
class BrakeStep:
    """One service step: the deceleration measured on dry level track, by speed.

    Attributes
    ----------
    name : str
        As the driver calls it, for instance "step 1".
    speeds : tuple of float
        Speeds at which the rate is given, rising. [m/s]
    rates : tuple of float
        Measured deceleration on the level at those speeds, linear between. [m/s2]
    wheelset_share : float
        Share of the train's weight on the wheelsets that do this step's braking
        (1 for friction on all; about 0.5 where an electric brake carries it). [-]
    """

    name: str
    speeds: tuple[float, ...]
    rates: tuple[float, ...]
    wheelset_share: float = 1.0


@dataclass(frozen=True)
class Train:
    """One train as it runs today: type, formation and brake condition together.

    Attributes
    ----------
    key : str
        Identity used in the pack.
    length : float
        Front coupler to rear coupler. [m]
    mass : float
        Static mass. [kg]
    rotating : float
        Rotating mass as a share of the static mass (rho). [-]
    resistance : tuple of float
        A, B, C of R = A + B v + C v2. [N, N/(m/s), N/(m/s)2]
    steps : tuple of BrakeStep
        Service steps, lightest first; the last is the step kept in hand.
    usual_step : int
        Index of the step a stop is usually made with.
    dead_time : float
        From the handle to the first brake force. [s]
    ramp : float
        Build-up of brake force per unit mass after the dead time. [m/s3]
    release_ramp : float
        Fall of brake force per unit mass at a release, after the dead time. [m/s3]
    max_speed : float
        Highest speed of the type. [m/s]
    acceleration : float
        Never less than what the train can do when starting away; only used to bound
        the speed reachable after the previous stop. [m/s2]
    isolated_share : float
        Braked weight isolated, as a share of the whole. [-]
    brake_share : float
        Brake force that is there, as a share of what the rates ask for. [-]
    """

    key: str
    length: float
    mass: float
    rotating: float
    resistance: tuple[float, float, float]
    steps: tuple[BrakeStep, ...]
    usual_step: int
    dead_time: float
    ramp: float
    release_ramp: float
    max_speed: float
    acceleration: float
    isolated_share: float = 0.0
    brake_share: float = 1.0


@dataclass(frozen=True)
class RailState:
    """One state of the chain, best first in every list of them.

    Attributes
    ----------
    key : str
        Identity used in the pack.
    plan, slick : float
        Adhesion to plan with and adhesion of the surprise slick, at standstill. [-]
    shape_speeds, shape_factors : tuple of float
        Factor on ``plan`` by speed, linear between; never rising. [m/s, -]
    cover_aim : float
        Cover a plan should give; 0 asks for none. [m]
    pickable : bool
        Whether a driver may set off in it; only such a state is kept in hand.
    """

    key: str
    plan: float
    slick: float
    shape_speeds: tuple[float, ...] = (0.0,)
    shape_factors: tuple[float, ...] = (1.0,)
    cover_aim: float = 0.0
    pickable: bool = True


@dataclass(frozen=True)
class Line:
    """The line in one direction of travel.

    Attributes
    ----------
    gradient_from, gradient : tuple of float
        Start of each stretch, rising, and its gradient, rising positive. [m, -]
    limit_from, limit_speed : tuple of float
        Start of each permanent speed and its value. [m, m/s]
    end : float
        Where the last stretch of both ends. [m]
    listed : tuple of (float, float, int, bool)
        Listed places: from, to, index of the rail state to plan with there, and
        whether the place is listed for a season only. [m, m, -, -]
    """

    gradient_from: tuple[float, ...]
    gradient: tuple[float, ...]
    limit_from: tuple[float, ...]
    limit_speed: tuple[float, ...]
    end: float
    listed: tuple[tuple[float, float, int, bool], ...] = ()


@dataclass(frozen=True)
class Target:
    """Something to have slowed for: a stop mark, or the board of a lower speed.

    Attributes
    ----------
    key : str
        Identity used in the pack.
    mark : tuple of float
        Where the front must be, for each train in the order of the table; NaN where
        that train has no mark here. [m]
    limit : tuple of float
        The nearest of what must not be passed, for each train; for a lower speed
        the board itself. [m]
    to_speed : float
        0 for a stop. [m/s]
    start : float
        The previous stop's mark, from which the train starts at standstill; NaN if
        the line's own speeds are the only bound. [m]
    """

    key: str
    mark: tuple[float, ...]
    limit: tuple[float, ...]
    to_speed: float = 0.0
    start: float = float("nan")


@dataclass(frozen=True)
class Settings:
    """Choices a company can replace; each default is an assumption named in the app.

    Attributes
    ----------
    eta : float
        Share of the rail's adhesion the brake may use without sliding, and that
        WSP holds while sliding. [-]
    reaction : float
        From the start of a slide to the handle moving. [s]
    least_deceleration : float
        Each application must still slow the train by this on its gradient. [m/s2]
    still_slows : float
        What is left of that with a weak brake and a poor slide, where plans are worked
        with room; 0: ``least_deceleration``. [m/s2]
    seconds_cap : float
        Most time a plan may cost against the usual approach. [s]
    cell : float
        Length of a grid cell. [m]
    horizon : float
        How far before the mark curves are worked out. [m]
    run_in_speeds : tuple of float
        Run-in speeds the plan may choose from, as posted on the line. [m/s]
    aim_short : tuple of float
        Distances short of the mark the first application may aim at. [m]
    quiet_from : int
        Index of the first rail state whose plan should be quiet one state worse; before
        it the plan should stop before the limit there, braked with all it has. -1: no
        state in hand is asked for, and nothing is said of one. [-]
    brake_share, strongest_share : float
        Weakest and strongest brake that plans are made for, as shares of the quoted one:
        marks, cover and limit are worked with the first, and what is called quiet is
        quiet with the second. [-]
    late : float
        How late the handle may move at the brake mark. [s]
    slow : float
        How much later than quoted the first brake force may come: dead time and build-up
        at their slow end, or an electric brake lost in a slide. [s]
    slide_eta : float
        Share of the rail's adhesion that WSP holds while sliding, at the poor end of what
        is published; 0: ``eta``. [-]
    """

    eta: float = 0.85
    reaction: float = 2.0
    least_deceleration: float = 0.15
    seconds_cap: float = 40.0
    cell: float = 10.0
    horizon: float = 5000.0
    run_in_speeds: tuple[float, ...] = tuple(0.44704 * mph for mph in (10, 15, 20, 25, 30))
    aim_short: tuple[float, ...] = tuple(float(a) for a in range(25, 301, 25))
    quiet_from: int = -1
    brake_share: float = 1.0
    strongest_share: float = 1.0
    late: float = 0.0
    slow: float = 0.0
    slide_eta: float = 0.0
    still_slows: float = 0.0

    @property
    def slowing(self) -> float:
        """Least deceleration a plan must give with the brake it is worked with. [m/s2]."""
        return self.still_slows or self.least_deceleration


@dataclass(frozen=True)
class TableInput:
    """One direction of a route, ready for the batched computation."""

    line: Line
    targets: tuple[Target, ...]
    trains: tuple[Train, ...]
    states: tuple[RailState, ...]
    speeds: tuple[float, ...]
    settings: Settings = field(default_factory=Settings)
