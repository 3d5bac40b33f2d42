"""Cases of the time-domain comparison, and the package's answer to each."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from roll_truth import Ship, System
from time_domain import Run, simulate

from passage.physics.fins.force import Fins
from passage.physics.roll.excitation import roll_excitation_kernel
from passage.physics.roll.response import HullRoll, RollResponse, solve_roll
from passage.physics.waves.spectrum import COS2_WIDTH_RAD, width_from_s
from passage.physics.waves.table import SpeedTables
from passage.units import KNOT_M_S

OMEGA0 = 0.8164
BEAM = 9.0
REFERENCE_KN = 12.0
_KERNEL = roll_excitation_kernel(OMEGA0, BEAM)
_TABLES = SpeedTables(_KERNEL)


@dataclass(frozen=True)
class Case:
    """One sea and one way of steering the fins; angles in degrees."""

    height_m: float
    period_s: float
    mu_deg: float
    speed_kn: float = 12.0
    rate_gain: float = 4.0
    angle_gain: float = 0.5
    acceleration_gain: float = 0.0
    offset_deg: float = 0.0
    heel_deg: float = 0.0
    zeta: float = 0.04
    quadratic: float = 0.15
    swell: bool = False
    fins: str = "active"
    rate_limit_deg_s: float = 30.0
    rest_deg: float = 0.0
    stall_deg: float = 26.4
    delay_s: float = 0.0


#: A control that sees roll late: three gains at three periods met, and near to hunting.
LATE = (
    *(Case(0.8, tp, 90, rate_gain=k, delay_s=0.3) for tp in (5, 8, 12) for k in (2.0, 6.0, 18.0)),
    Case(0.5, 8, 90, rate_gain=30.0, delay_s=0.3),
    Case(0.2, 5, 90, rate_gain=20.0, delay_s=0.6),
    Case(1.0, 8, 45, rate_gain=6.0, angle_gain=2.0, acceleration_gain=2.0, delay_s=0.5),
)

#: Spanning heading, period, height, gain, offset and speed; fins centred, absent
#: and at rest.
CASES = (
    Case(1.0, 8, 90),
    Case(1.0, 8, 90, fins="centred"),
    Case(1.0, 8, 90, fins="absent"),
    Case(2.5, 8, 90, fins="absent"),
    Case(2.5, 8, 90, fins="centred"),
    Case(2.0, 6, 90),
    Case(2.0, 10, 90),
    Case(2.0, 12, 60, swell=True),
    Case(2.0, 8, 45),
    Case(2.0, 8, 30, angle_gain=2.0),
    Case(2.0, 9, 0, swell=True),
    Case(2.0, 10, 180, fins="centred"),
    Case(2.0, 9, 135),
    Case(2.5, 9, 120, rate_gain=6.0),
    Case(2.0, 8, 90, offset_deg=8, heel_deg=1.0),
    Case(2.5, 8, 90, offset_deg=8, heel_deg=1.0),
    Case(3.0, 8, 90, offset_deg=8, heel_deg=1.0),
    Case(2.0, 8, 60, offset_deg=-12, heel_deg=-1.5, angle_gain=1.0),
    Case(1.5, 8, 90, offset_deg=16, heel_deg=2.0),
    Case(1.5, 8, 75, speed_kn=8.0),
    Case(2.0, 8, 90, speed_kn=8.0, offset_deg=6, heel_deg=0.5),
    Case(2.5, 8, 90, speed_kn=15.0),
    Case(3.5, 9, 45, speed_kn=15.0, angle_gain=1.5, offset_deg=5, heel_deg=1.0),
    Case(2.0, 7, 90, rate_gain=7.0, acceleration_gain=1.0),
    Case(1.0, 8, 90, rate_gain=10.0, angle_gain=0.0),
    Case(2.5, 8, 90, rate_gain=8.0),
    Case(2.5, 8, 90, rate_limit_deg_s=12.0),
    Case(3.5, 8, 90),
    Case(3.5, 8, 90, rate_gain=7.0),
    Case(4.0, 9, 60, offset_deg=6, heel_deg=1.0),
    Case(4.0, 8, 90, rate_gain=6.0, offset_deg=4, heel_deg=1.0),
    Case(5.0, 8, 90, rate_gain=8.0),
    Case(4.5, 8, 75, rate_gain=8.0),
    Case(2.5, 8, 90, stall_deg=15.0),
    Case(3.0, 9, 75, stall_deg=18.0, rate_gain=6.0),
    Case(1.5, 8, 90, offset_deg=8, heel_deg=1.0, stall_deg=15.0),
    Case(2.0, 8, 90, rate_limit_deg_s=6.0),
    Case(1.5, 8, 90, rate_limit_deg_s=6.0, rate_gain=6.0),
    Case(2.0, 9, 60, rate_limit_deg_s=10.0, rate_gain=6.0),
    Case(3.0, 10, 120, rate_limit_deg_s=15.0, rate_gain=8.0),
    Case(3.0, 8, 90, speed_kn=8.0),  # beyond: at a limit half of the time
    Case(0.4, 7, 90, speed_kn=0.0, swell=True, fins="at rest", rest_deg=0.15),
    Case(0.8, 7, 90, speed_kn=0.0, swell=True, fins="at rest", rest_deg=0.15),
    Case(0.3, 8, 60, speed_kn=0.0, swell=True, fins="absent", zeta=0.02),
    *LATE,
)


def ship_of(case: Case) -> Ship:
    """Hull and fins of a case, gains scheduled by speed."""
    speed = case.speed_kn * KNOT_M_S
    factor = (case.speed_kn / REFERENCE_KN) ** 2
    active = case.fins == "active"
    gain = min(1 / factor, 4.0) if active else 0.0
    there = case.fins in ("active", "centred")
    return Ship(
        OMEGA0,
        case.zeta,
        case.quadratic,
        BEAM,
        speed,
        moment=0.12514 * factor if there else 0.0,
        inflow=3.6 / speed if there else 0.0,
        limit=np.radians(25),
        rate_limit=np.radians(case.rate_limit_deg_s),
        stall=np.radians(case.stall_deg),
        k1=gain * case.angle_gain,
        k2=gain * case.rate_gain,
        k3=gain * case.acceleration_gain,
        offset=np.radians(case.offset_deg),
        delay=case.delay_s,
    )


def sea_of(case: Case) -> System:
    """The sea of a case: wind sea with cos^2 spreading, or swell."""
    gamma, s = (5.0, 25.0) if case.swell else (3.3, None)
    return System(case.height_m, case.period_s, np.radians(case.mu_deg), gamma, s)


def linearised(case: Case) -> RollResponse:
    """The package's answer."""
    ship, sea = ship_of(case), sea_of(case)
    width = COS2_WIDTH_RAD if sea.s is None else float(width_from_s(sea.s))
    excitation = _TABLES.variance(
        ship.speed, [sea.height_m], sea.peak_period_s, sea.mu_rad, sea.gamma, width
    )
    heel = np.radians(case.heel_deg)
    return answer_of(ship, excitation, _KERNEL.nodes_rad_s, heel, np.radians(case.rest_deg))


def fins_of(ship: Ship, rest: float = 0.0) -> Fins:
    """Its fins as the package takes them; rest moment in rad."""
    return Fins(
        moment_ratio=[ship.moment],
        inflow_time_s=ship.inflow,
        angle_limit_rad=ship.limit,
        rate_limit_rad_s=ship.rate_limit,
        lag_s=ship.lag,
        stall_angle_rad=ship.stall,
        post_stall_slope=ship.fall,
        angle_gain=ship.k1,
        rate_gain_s=ship.k2,
        acceleration_gain_s2=ship.k3,
        offset_rad=ship.offset,
        rest_moment_rad=rest,
        delay_s=ship.delay,
    )


def answer_of(
    ship: Ship, excitation: np.ndarray, nodes: np.ndarray, heel: float, rest: float = 0.0
) -> RollResponse:
    """The package's answer to excitation (nodes,) of a ship; heel and rest moment in rad."""
    fins = fins_of(ship, rest)
    hull = HullRoll(ship.omega0, ship.zeta, ship.quadratic, heel)
    return solve_roll(excitation, nodes, hull, fins)


def simulated(case: Case, records: int = 2) -> Run:
    """The time domain's answer."""
    ship = ship_of(case)
    if case.fins in ("absent", "at rest"):
        ship = replace(ship, offset=0.0)
    return simulate(
        [sea_of(case)],
        ship,
        np.radians(case.heel_deg),
        np.radians(case.rest_deg),
        records=records,
    )


@dataclass(frozen=True)
class Comparison:
    """Errors of the package against the time domain."""

    case: Case
    run: Run
    answer: RollResponse
    roll_percent: float
    heel_error_deg: float
    heel_allowed_deg: float
    drag_percent: float
    rate_percent: float

    @property
    def roll_allowed_percent(self) -> float:
        """5 %; 2 % with a delay and fins that are free."""
        return 2.0 if self.case.delay_s > 0.0 else 5.0


def compare(case: Case) -> Comparison:
    """Both answers and how far apart they are."""
    run, answer = simulated(case), linearised(case)
    lift = float(answer.lift_rms_rad[0] ** 2 + answer.lift_mean_rad[0] ** 2)
    steered = case.fins == "active"
    drag = 100 * (lift / run.lift_square - 1) if case.fins in ("active", "centred") else 0.0
    travel = 100 * (float(answer.travel_rad_s[0]) / run.fin_rate_mean - 1) if steered else 0.0
    held = np.degrees(run.mean_heel)
    return Comparison(
        case=case,
        run=run,
        answer=answer,
        roll_percent=100 * (float(answer.roll_rms_rad) / run.roll_rms - 1),
        heel_error_deg=float(np.degrees(answer.mean_heel_rad) - held),
        heel_allowed_deg=max(0.1, 0.03 * abs(held)),
        drag_percent=drag,
        rate_percent=travel,
    )
