"""Fuel against speed in still water, and fuel for an extra force along the track.

The owner's speed-fuel points are the reference for still water. Everything else is extra
brake power, through the propulsive efficiency and the engine's specific consumption: a force
of R newton at speed U takes ``R U / efficiency`` watts at the engine.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np
import numpy.typing as npt

from passage.physics.curves import Curve, monotone_curve
from passage.units import (
    CO2_T_PER_T_MGO,
    FUEL_DENSITY_T_M3,
    G_M_S2,
    HOUR_S,
    kg_to_litres,
    litres_to_tonnes,
    tonnes_to_kg,
)

Array = npt.NDArray[np.float64]

#: Range beyond the owner's points, as a share of the end speed.
EXTRAPOLATION_SHARE = 0.05
#: Exponents of displacement in the power at a given speed: Admiralty 2/3, and the upper end of
#: the band, for low speeds (trend of small-craft series).
DISPLACEMENT_EXPONENTS = (2.0 / 3.0, 1.0)
_W_PER_KW = 1000.0
_G_PER_KG = 1000.0
_INVERSE_NODES = 1025


@dataclass(frozen=True, eq=False)
class SpeedFuelCurve:
    """Still-water fuel rate against speed through the water, from the owner's points.

    Monotone cubic interpolation of the logarithms (Fritsch & Butland 1984, see
    ``monotone_curve``): it passes through every point without overshoot and keeps a power law
    exact. Beyond the ends the power law of the end slope continues for 5 % of speed; further
    out the result is NaN.

    Parameters
    ----------
    speed_m_s : ndarray (n,)
        Speeds through the water, rising, n at least 2. [m/s]
    fuel_l_per_h : ndarray (n,)
        Fuel of all main engines at these speeds, rising. [l/h]
    idle_l_per_h : float, optional
        Fuel of all main engines idling. With it :meth:`fuel` is known at low speeds too, as
        ``idle + (f - idle) (V / V_low)^m`` with value and slope of the curve at its slow end
        (assumption). [l/h]

    Raises
    ------
    ValueError
        Fewer than two points, or speeds or fuel rates not positive and rising.
    """

    speed_m_s: Array
    fuel_l_per_h: Array
    idle_l_per_h: float | None = None

    def __post_init__(self) -> None:
        """Check that the curve can be inverted."""
        self._check_points()
        if self.idle_l_per_h is not None and not 0.0 < self.idle_l_per_h < self._slowest_fuel:
            raise ValueError("idle_l_per_h: must be above 0 and below the fuel of the points")

    def _check_points(self) -> None:
        for name in ("speed_m_s", "fuel_l_per_h"):
            values = np.array(getattr(self, name), dtype=float)
            values.setflags(write=False)
            object.__setattr__(self, name, values)
            if values.ndim != 1 or values.size < 2:
                raise ValueError(f"{name}: at least two points are needed")
            if not (values[0] > 0.0 and np.all(np.diff(values) > 0.0)):
                raise ValueError(f"{name}: values must be above 0 and rising")
        if self.speed_m_s.shape != self.fuel_l_per_h.shape:
            raise ValueError("speed_m_s and fuel_l_per_h differ in length")

    @property
    def slowest_m_s(self) -> float:
        """Lowest speed of the curve, 5 % below the first point [m/s]."""
        return float(self.speed_m_s[0] * (1.0 - EXTRAPOLATION_SHARE))

    @property
    def fastest_m_s(self) -> float:
        """Highest speed of the curve, 5 % above the last point [m/s]."""
        return float(self.speed_m_s[-1] * (1.0 + EXTRAPOLATION_SHARE))

    @cached_property
    def _logarithmic(self) -> Curve:
        return monotone_curve(np.log(self.speed_m_s), np.log(self.fuel_l_per_h))

    @cached_property
    def _end_slopes(self) -> tuple[float, float]:
        slope = self._logarithmic.slope_at
        ends = np.log(self.speed_m_s[[0, -1]])
        return float(slope(ends[0])), float(slope(ends[1]))

    @cached_property
    def _slowest_fuel(self) -> float:
        return float(np.exp(self._log_fuel(np.log(self.slowest_m_s))))

    def _log_fuel(self, log_speed: Array) -> Array:
        low, high = np.log(self.speed_m_s[[0, -1]])
        slope_low, slope_high = self._end_slopes
        inside = np.clip(log_speed, low, high)
        return np.asarray(
            self._logarithmic(inside)
            + slope_low * np.minimum(log_speed - low, 0.0)
            + slope_high * np.maximum(log_speed - high, 0.0)
        )

    def fuel(self, speed_m_s: npt.ArrayLike) -> Array:
        """Still-water fuel rate at a speed through the water.

        Parameters
        ----------
        speed_m_s : array_like
            Speed through the water, 0 or more. [m/s]

        Returns
        -------
        ndarray
            Fuel rate; 0 at speed 0 (engines stopped). NaN more than 5 % beyond the owner's
            points, except at low speeds where an idle rate is given. [l/h]
        """
        speed = np.asarray(speed_m_s, dtype=float)
        known = (speed >= self.slowest_m_s) & (speed <= self.fastest_m_s)
        rate = np.exp(self._log_fuel(np.log(np.where(known, speed, self.speed_m_s[0]))))
        rate = np.where(known, rate, np.where(speed == 0.0, 0.0, np.nan))
        if self.idle_l_per_h is None:
            return rate
        slow = (speed > 0.0) & (speed < self.slowest_m_s)
        return np.where(slow, self._slow_fuel(np.where(slow, speed, 1.0)), rate)

    def _slow_fuel(self, speed_m_s: Array) -> Array:
        """Fuel rate below the slowest speed of the curve, down to idling. [m/s] -> [l/h]"""
        assert self.idle_l_per_h is not None
        low = self.slowest_m_s
        fuel = self._slowest_fuel
        above = fuel - self.idle_l_per_h
        power = self._end_slopes[0] * fuel / above
        return np.asarray(self.idle_l_per_h + above * (speed_m_s / low) ** power)

    @cached_property
    def _inverse_table(self) -> tuple[Array, Array]:
        log_speed = np.linspace(np.log(self.slowest_m_s), np.log(self.fastest_m_s), _INVERSE_NODES)
        return self._log_fuel(log_speed), log_speed

    def speed(self, fuel_l_per_h: npt.ArrayLike) -> Array:
        """Speed through still water at a fuel rate [l/h]. [m/s]

        The inverse of :meth:`fuel` within the range of the curve; NaN outside.
        """
        fuel = np.asarray(fuel_l_per_h, dtype=float)
        log_fuel, log_speed = self._inverse_table
        known = (fuel > 0.0) | np.isnan(fuel)
        wanted = np.log(np.where(known, fuel, 1.0))
        x = np.interp(wanted, log_fuel, log_speed, left=np.nan, right=np.nan)
        # Bisection in the table's cell, to double precision.
        cell = log_speed[1] - log_speed[0]
        low, high = x - cell, x + cell
        for _ in range(44):
            middle = 0.5 * (low + high)
            short = self._log_fuel(middle) < wanted
            low, high = np.where(short, middle, low), np.where(short, high, middle)
        answer = np.where(known, np.exp(0.5 * (low + high)), np.nan)
        return np.where(fuel == 0.0, 0.0, answer)


@dataclass(frozen=True, kw_only=True)
class Engine:
    """All engines and propellers as one.

    With ``max_power_kw`` the specific consumption varies with load, and the given value is
    the base of :func:`specific_fuel_shape`; without, it is constant.
    """

    propulsive_efficiency: float
    specific_fuel_g_per_kwh: float
    fuel_density_t_m3: float = FUEL_DENSITY_T_M3
    max_power_kw: float | None = None
    max_fuel_l_per_h: float | None = None

    @property
    def litres_per_kwh(self) -> float:
        """Base specific consumption [l/kWh]."""
        return float(kg_to_litres(self.specific_fuel_g_per_kwh / _G_PER_KG, self.fuel_density_t_m3))


def specific_fuel_shape(load: npt.ArrayLike) -> Array:
    """Specific consumption over its base against engine load (dimensionless).

    ``0.455 x^2 - 0.710 x + 1.280``, x the share of full power (IMO Third GHG Study,
    after Jalkanen 2012; restated with worked numbers by US EPA marine emission tools).
    """
    x = np.asarray(load, dtype=float)
    return (0.455 * x - 0.710) * x + 1.280


def fuel_from_brake_power(power_w: npt.ArrayLike, engine: Engine) -> Array:
    """Fuel rate for a brake power. [W] -> [l/h]"""
    power_kw = np.asarray(power_w, dtype=float) / _W_PER_KW
    shape: Array | float = 1.0
    if engine.max_power_kw is not None:
        shape = specific_fuel_shape(power_kw / engine.max_power_kw)
    return power_kw * engine.litres_per_kwh * shape


def brake_power_from_fuel(fuel_l_per_h: npt.ArrayLike, engine: Engine) -> Array:
    """Brake power that a fuel rate gives; inverse of :func:`fuel_from_brake_power`.

    [l/h] -> [W]. Fuel rises steadily with load, so the cubic has one real root, solved in
    closed form.
    """
    power_kw = np.asarray(fuel_l_per_h, dtype=float) / engine.litres_per_kwh
    if engine.max_power_kw is None:
        return power_kw * _W_PER_KW
    # 0.455 x^3 - 0.710 x^2 + 1.280 x = y; depressed with x = t + c.
    y = power_kw / engine.max_power_kw
    c = 0.710 / (3.0 * 0.455)
    p = 1.280 / 0.455 - 3.0 * c**2
    q = -2.0 * c**3 + c * 1.280 / 0.455 - y / 0.455
    root = np.sqrt((q / 2.0) ** 2 + (p / 3.0) ** 3)
    load = np.cbrt(-q / 2.0 + root) + np.cbrt(-q / 2.0 - root) + c
    return load * engine.max_power_kw * _W_PER_KW


def brake_power_from_force(
    force_n: npt.ArrayLike, speed_m_s: npt.ArrayLike, engine: Engine
) -> Array:
    """Extra brake power for an extra force against the motion, R U / efficiency.

    [N], [m/s] -> [W]
    """
    force = np.asarray(force_n, dtype=float)
    return force * np.asarray(speed_m_s, dtype=float) / engine.propulsive_efficiency


def fuel_per_extra_watt(
    still_fuel_l_per_h: npt.ArrayLike, extra_power_w: npt.ArrayLike, engine: Engine
) -> Array:
    """Fuel rate per watt of extra brake power on top of still water. [l/h/W]

    It is the mean over the whole extra power (the slope, where there is none), so that the
    fuel of its shares adds up. Extra power that would make the total negative gives zero fuel
    in all.
    """
    still = np.asarray(still_fuel_l_per_h, dtype=float)
    extra = np.asarray(extra_power_w, dtype=float)
    base = brake_power_from_fuel(still, engine)
    # Less than a watt counts as no extra power: the slope over 1 W avoids a division by 0.
    step = np.where(np.abs(extra) < 1.0, 1.0, extra)
    if engine.max_power_kw is None:
        slope = np.full_like(base + step, engine.litres_per_kwh / _W_PER_KW)
    else:
        slope = (fuel_from_brake_power(base + step, engine) - still) / step
    return np.where(base + step < 0.0, -still / step, slope)


def displacement_factor(
    displacement_ratio: npt.ArrayLike, exponent: float = DISPLACEMENT_EXPONENTS[0]
) -> Array:
    """Factor on still-water fuel for a displacement other than that of the speed-fuel points.

    The Admiralty coefficient at constant speed: power goes with displacement^(2/3) (textbook
    rule). At low speeds the exponent may be nearer to 1 (:data:`DISPLACEMENT_EXPONENTS`).

    Ratio, exponent and factor are dimensionless, any shape. For small changes of loading;
    trim and wetted surface are left out.
    """
    return np.asarray(displacement_ratio, dtype=float) ** exponent


def generator_fuel(
    power_kw: npt.ArrayLike,
    specific_fuel_g_per_kwh: float,
    fuel_density_t_m3: float = FUEL_DENSITY_T_M3,
) -> Array:
    """Fuel rate for electric or hydraulic power at the generator. [kW] -> [l/h]"""
    mass_kg = np.asarray(power_kw, dtype=float) * specific_fuel_g_per_kwh / _G_PER_KG
    return np.asarray(kg_to_litres(mass_kg, fuel_density_t_m3))


def fuel_tonnes(fuel_l: npt.ArrayLike, fuel_density_t_m3: float = FUEL_DENSITY_T_M3) -> Array:
    """Tonnes of fuel from litres.

    [l] and density [t/m3] -> [t], any shape.
    """
    return np.asarray(litres_to_tonnes(np.asarray(fuel_l, float), fuel_density_t_m3))


def co2_tonnes(fuel_l: npt.ArrayLike, fuel_density_t_m3: float = FUEL_DENSITY_T_M3) -> Array:
    """Tonnes of CO2 from litres of marine gas oil, 3.206 t/t (IMO MEPC.308(73)).

    [l] and density [t/m3] -> [t], any shape.
    """
    return fuel_tonnes(fuel_l, fuel_density_t_m3) * CO2_T_PER_T_MGO


def pump_fuel(
    mass_t: npt.ArrayLike,
    head_m: float,
    pump_efficiency: float,
    specific_fuel_g_per_kwh: float,
    fuel_density_t_m3: float = FUEL_DENSITY_T_M3,
) -> Array:
    """Fuel to pump a mass [t] against a head [m], which includes friction. [l]"""
    energy_j = tonnes_to_kg(np.asarray(mass_t, dtype=float)) * G_M_S2 * head_m
    energy_kwh = energy_j / pump_efficiency / HOUR_S / _W_PER_KW
    return generator_fuel(energy_kwh, specific_fuel_g_per_kwh, fuel_density_t_m3)
