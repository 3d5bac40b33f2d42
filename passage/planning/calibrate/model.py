"""Computed roll and fuel for the intervals of a log.

Everything that does not depend on the fitted parameters is computed once.
"""

from __future__ import annotations

from dataclasses import replace
from typing import Literal

import numpy as np
import numpy.typing as npt

from passage.inputs.forecast import Conditions
from passage.inputs.records.log import FIN_WORDS, FINS_UNKNOWN, PassageLog
from passage.inputs.vessel import Vessel
from passage.physics.fins.drag import heel_drag_share
from passage.physics.fins.use import ACTIVE as ACTIVE_USE
from passage.physics.fins.use import MANOEUVRING, UNDER_WAY_M_S
from passage.physics.fuel.propulsion import (
    brake_power_from_force,
    brake_power_from_fuel,
    displacement_factor,
    fuel_per_extra_watt,
)
from passage.physics.resistance.waves import no_credit, wave_resistance_kernel
from passage.physics.roll.excitation import RollExcitation
from passage.physics.roll.response import RollResponse, solve_roll
from passage.physics.waves.table import SpeedTables
from passage.planning.calibrate.sea import LoggedSea
from passage.planning.voyage.forces import wind_forces
from passage.planning.voyage.march import March
from passage.planning.voyage.rolling import (
    NO_FINS,
    Choices,
    fin_offset,
    response_fin_forces,
)
from passage.planning.voyage.yacht import Yacht
from passage.units import deg_to_rad

Array = npt.NDArray[np.float64]
Flags = npt.NDArray[np.bool_]

ACTIVE = FIN_WORDS.index("active")
#: Standard error of the fuel for sea, wind and fins, as a share of it: half the plan's band
#: (assumption).
PRICE_DOUBT = 0.12
#: Least roll that is used; a smaller one is mostly instrument resolution (assumption) [rad].
LEAST_ROLL_RAD = deg_to_rad(0.1)


def logged_march(sea: LoggedSea) -> March:
    """Intervals of a log as points of a march, as an argument of the plan's functions."""
    n = sea.speed_m_s.size
    none, fine = np.full(n, np.nan), np.zeros(n, dtype=np.int8)
    flat = np.where(sea.wind_known, 0.0, np.nan)
    sky = Conditions(
        height_m=sea.height_m,
        peak_period_s=sea.peak_period_s,
        from_rad=np.zeros_like(sea.height_m),
        gamma=sea.gamma,
        spread_rad=sea.spread_rad,
        system_names=("logged",) * sea.height_m.shape[-1],
        total_height_m=none,
        wind_u_m_s=sea.wind_u_m_s + flat,
        wind_v_m_s=sea.wind_v_m_s + flat,
        current_u_m_s=none,
        current_v_m_s=none,
        depth_m=none,
        coverage=fine,
        wind_coverage=fine,
        current_coverage=fine,
    )
    return March(
        time_s=none,
        hours=none,
        speed_through_water_m_s=sea.speed_m_s,
        speed_over_ground_m_s=sea.speed_over_ground_m_s,
        heading_rad=sea.heading_rad,
        course_rad=sea.heading_rad,
        no_way=np.zeros(n, dtype=bool),
        end_time_s=none,
        conditions=sky,
        rounds=0,
        converged=True,
    )


class RollModel:
    """Roll rms of the usable intervals, as a function of shifts of the parameters.

    ``slope`` is "formula" (strip theory or the formula, as in the vessel file) or "number".
    Steady heel is computed as in a plan: list of the vessel file and heel by wind, held by
    working fins as far as their offset goes.
    """

    def __init__(self, vessel: Vessel, log: PassageLog, sea: LoggedSea) -> None:
        self.vessel = vessel
        self.yacht = Yacht(vessel)
        fins_known = (log.fins != FINS_UNKNOWN) | (not vessel.fins)
        self.use = (
            sea.known
            & fins_known
            & (sea.speed_m_s >= UNDER_WAY_M_S)
            & (log.roll_rms_rad >= LEAST_ROLL_RAD)
        )
        self.active = (log.fins == ACTIVE) & bool(vessel.fins)
        self.sea = sea
        self.observed = np.asarray(log.roll_rms_rad)[self.use]
        self.wind = wind_forces(self.yacht, logged_march(sea))
        self.static_rad = self.wind.heel_rad + deg_to_rad(vessel.loading.list_deg)
        self._tables: dict[str, Array] = {}
        number = vessel.roll.wave_slope_coefficient
        self.start_number = number if isinstance(number, float) else self._mean_coefficient()

    def excitation(self, slope: Literal["formula", "number"]) -> Array:
        """Slope variance by encounter frequency for all intervals; coefficient 1 for "number"."""
        if slope not in self._tables:
            plain = self.yacht.excitation
            kernel = plain
            if slope == "number":
                strips = self.yacht.strips
                kernel = RollExcitation(plain.nodes_rad_s, plain.beam_m, 1.0, strips)
            s = self.sea
            self._tables[slope] = SpeedTables(kernel).variance(
                s.speed_m_s, s.height_m, s.peak_period_s, s.mu_rad, s.gamma, s.spread_rad
            )
        return self._tables[slope]

    def _mean_coefficient(self) -> float:
        """Coefficient that gives the formula's slope variance in the median of the intervals."""
        if not np.any(self.use):
            return 1.0
        formula = self.excitation("formula")[self.use].sum(axis=-1)
        unit = self.excitation("number")[self.use].sum(axis=-1)
        return float(np.sqrt(np.median(formula / unit)))

    def response(
        self,
        shifts: dict[str, float],
        slope: Literal["formula", "number"],
        rows: Flags,
    ) -> RollResponse:
        """Roll of some intervals, each with its fins as logged."""
        # With the formula the shift is a factor on it: no key of the file, but an uncertainty.
        start = self.start_number if slope == "number" else 1.0
        factor = start * float(np.exp(shifts.get("wave_slope", 0.0)))
        excitation = factor**2 * self.excitation(slope)[rows]
        more = float(np.exp(shifts.get("damping", 0.0)))
        speed = self.sea.speed_m_s[rows]
        own = self.yacht.hull_roll(speed, self.static_rad[rows])
        hull = replace(
            own,
            damping_ratio=more * np.asarray(own.damping_ratio),
            quadratic_damping_per_rad=more * np.asarray(own.quadratic_damping_per_rad),
        )
        if not self.vessel.fins:
            return solve_roll(excitation, self.yacht.excitation.nodes_rad_s, hull, NO_FINS)
        fins = self.yacht.fins_at(speed)
        lift = float(np.exp(shifts.get("fin_efficiency", 0.0)))
        works = self.active[rows][:, None]
        codes = np.where(self.active[rows], ACTIVE_USE, MANOEUVRING).astype(np.int8)
        offset, _ = fin_offset(self.yacht, speed, self.static_rad[rows], codes, Choices())
        # Fins that lift less need more angle for the same heel, up to their largest offset.
        most = self.yacht.offset_most_rad
        fins = replace(
            fins,
            moment_ratio=lift * np.asarray(fins.moment_ratio),
            offset_rad=np.where(works, np.clip(offset / lift, -most, most), 0.0),
            angle_gain=np.where(works, fins.angle_gain, 0.0),
            rate_gain_s=np.where(works, fins.rate_gain_s, 0.0),
            acceleration_gain_s2=np.where(works, fins.acceleration_gain_s2, 0.0),
        )
        return solve_roll(excitation, self.yacht.excitation.nodes_rad_s, hull, fins)

    def log_roll(self, shifts: dict[str, float], slope: Literal["formula", "number"]) -> Array:
        """Logarithm of the roll rms of the usable intervals."""
        roll = self.response(shifts, slope, self.use).roll_rms_rad
        # An unstable loop or a flat calm has no logarithm; a very small roll marks a bad fit.
        good = np.isfinite(roll) & (roll > 0.0)
        return np.log(np.where(good, roll, 1e-6))


class FuelModel:
    """Main-engine fuel rate of the usable intervals. [l/h]"""

    def __init__(
        self,
        roll: RollModel,
        log: PassageLog,
        shifts: dict[str, float],
        slope: Literal["formula", "number"],
    ) -> None:
        vessel, sea, yacht = roll.vessel, roll.sea, roll.yacht
        fins_known = (log.fins != FINS_UNKNOWN) | (not vessel.fins)
        on_curve = np.isfinite(yacht.curve.fuel(sea.speed_m_s)) & (sea.speed_m_s > 0.0)
        self.use = sea.known & fins_known & on_curve & (log.fuel_l_per_h > 0.0)
        self.yacht = yacht
        self.observed = np.asarray(log.fuel_l_per_h)[self.use]
        self.speed_m_s = sea.speed_m_s[self.use]
        ratio = log.displacement_t / vessel.propulsion.trial_displacement_t
        ratio = np.where(np.isnan(ratio), yacht.displacement_ratio, ratio)
        self.still = yacht.curve.fuel(self.speed_m_s) * displacement_factor(ratio)[self.use]
        fins, heel = self._fins(roll, shifts, slope)
        force = self._waves(sea) + roll.wind.force_n[self.use] + fins
        self.power_w = brake_power_from_force(force, self.speed_m_s, yacht.engine)
        self.power_w = self.power_w + brake_power_from_fuel(
            self.still, yacht.engine
        ) * heel_drag_share(heel)
        low, high = (
            (float(np.log(f(self.speed_m_s))) for f in (np.min, np.max))
            if np.any(self.use)
            else (0.0, 1.0)
        )
        self.middle, self.half = 0.5 * (low + high), max(0.5 * (high - low), 1e-3)

    def _waves(self, sea: LoggedSea) -> Array:
        if not np.any(self.use):
            return np.zeros(0)
        tables = SpeedTables(wave_resistance_kernel(self.yacht.resistance_hull))
        s, rows = sea, self.use
        both = tables.variance(
            s.speed_m_s[rows],
            s.height_m[rows],
            s.peak_period_s[rows],
            s.mu_rad[rows],
            s.gamma[rows],
            s.spread_rad[rows],
        )
        return no_credit(both[..., 0])

    def _fins(
        self, roll: RollModel, shifts: dict[str, float], slope: Literal["formula", "number"]
    ) -> tuple[Array, Array]:
        """Drag of working fins and of holding the heel [N], and the remaining heel [rad]."""
        if not np.any(self.use):
            return np.zeros(0), np.zeros(0)
        answer = roll.response(shifts, slope, self.use)
        heel = np.nan_to_num(answer.mean_heel_rad)
        if not roll.vessel.fins:
            return np.zeros(self.speed_m_s.shape), heel
        working, holding = response_fin_forces(self.yacht, self.speed_m_s, answer, Choices())
        # Where the loop has no solution the drag of the fins is left out, not the interval. As
        # in the plan, the drag of centred fins is in the speed-fuel points.
        total = np.nan_to_num(working + holding)
        return np.where(roll.active[self.use], total, 0.0), heel

    def price_doubt(self, speed_m_s: float) -> float:
        """Standard error of the fuel for sea, wind and fins, as a share of the fuel.

        12 % of the mean share of intervals near that speed [m/s]: half of the 25 % either way
        of the plan's band.
        """
        still = self.still
        extra = self.power_w * fuel_per_extra_watt(still, self.power_w, self.yacht.engine) / still
        near = np.exp(-0.5 * (np.log(self.speed_m_s / speed_m_s) / 0.15) ** 2) + 1e-9
        return PRICE_DOUBT * float(np.sum(near * np.abs(extra)) / np.sum(near))

    def outside(self, speed_m_s: float) -> float:
        """Distance of a speed [m/s] from the range of logged speeds, as a logarithm; 0 within."""
        low, high = np.log(self.speed_m_s.min()), np.log(self.speed_m_s.max())
        at = float(np.log(speed_m_s))
        return float(max(low - at, at - high, 0.0))

    def place(self, speed_m_s: npt.ArrayLike) -> Array:
        """Speeds [m/s] on the scale of the fit: -1 at the slowest logged and below, +1 at the
        fastest and above."""
        x = (np.log(np.asarray(speed_m_s, dtype=float)) - self.middle) / self.half
        return np.clip(x, -1.0, 1.0)

    def correction(self, shifts: dict[str, float], speed_m_s: npt.ArrayLike) -> Array:
        """Logarithm of the factor on still-water fuel at a speed [m/s]."""
        x = self.place(speed_m_s)
        level, tilt, bend = (
            shifts.get(name, 0.0) for name in ("fuel_level", "fuel_tilt", "fuel_bend")
        )
        return np.asarray(level + tilt * x + bend * (x**2 - 1.0 / 3.0))

    def log_fuel(self, shifts: dict[str, float]) -> Array:
        """Logarithm of the fuel rate of the usable intervals."""
        still = self.still * np.exp(self.correction(shifts, self.speed_m_s))
        price = fuel_per_extra_watt(still, self.power_w, self.yacht.engine)
        return np.log(np.maximum(still + self.power_w * price, 1e-6))
