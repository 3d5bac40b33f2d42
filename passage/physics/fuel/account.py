"""Fuel rate at a point, split by cause, with a low and a high end.

The parts add up to the total exactly: all extra powers at a point have one consumption per
watt, the mean over their sum.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from passage.physics.fins.drag import heel_drag_share, heel_drag_share_high
from passage.physics.fuel.propulsion import (
    DISPLACEMENT_EXPONENTS,
    Engine,
    SpeedFuelCurve,
    brake_power_from_force,
    brake_power_from_fuel,
    displacement_factor,
    fuel_per_extra_watt,
    generator_fuel,
)

Array = npt.NDArray[np.float64]

#: Least uncertainty of the wave force, as a share of it (assumption).
WAVE_SHARE = 0.25
#: The parts that add to the total, in the order they are added.
PARTS: tuple[str, ...] = (
    "still_water",
    "waves",
    "wind",
    "fins_active",
    "fins_offset",
    "list",
    "hotel",
)


@dataclass(frozen=True)
class FuelSplit:
    """Fuel rates of one shape by cause [l/h].

    ``still_water`` is the engines' fuel in still water at this displacement; ``waves`` and
    ``wind`` (negative where it helps) are added resistance; ``fins_active`` is the drag of
    working against roll, with the hydraulics; ``fins_offset`` the drag of holding a list;
    ``list`` the drag of the heeled hull; ``hotel`` the generators for the house.
    ``hydraulics`` is the share of ``fins_active`` that generators burn; it is no further part
    of the total.
    """

    still_water: Array
    waves: Array
    wind: Array
    fins_active: Array
    fins_offset: Array
    list: Array
    hotel: Array
    hydraulics: Array

    @property
    def total(self) -> Array:
        """Sum of ``PARTS``. [l/h]"""
        total = self.still_water
        for part in PARTS[1:]:
            total = total + getattr(self, part)
        return total

    @property
    def main_engines(self) -> Array:
        """Fuel rate of the main engines, to compare with their limit. [l/h]"""
        return self.total - self.hotel - self.hydraulics


def fuel_split(
    *,
    speed_m_s: npt.ArrayLike,
    curve: SpeedFuelCurve,
    engine: Engine,
    wave_force_n: npt.ArrayLike = 0.0,
    wind_force_n: npt.ArrayLike = 0.0,
    fin_active_force_n: npt.ArrayLike = 0.0,
    fin_offset_force_n: npt.ArrayLike = 0.0,
    heel_rad: npt.ArrayLike = 0.0,
    displacement_ratio: npt.ArrayLike = 1.0,
    fins_kw: npt.ArrayLike = 0.0,
    generator_l_per_h: npt.ArrayLike = 0.0,
    generator_specific_fuel_g_per_kwh: float | None = None,
) -> FuelSplit:
    """Fuel rate at each point, split by cause.

    Parameters
    ----------
    speed_m_s : array_like
        Speed through the water; 0 means engines stopped. [m/s]
    curve, engine
        Still-water fuel curve, and engines.
    wave_force_n, wind_force_n, fin_active_force_n, fin_offset_force_n : array_like
        Extra forces against the motion; rudder drag due to the offset belongs to the
        offset. [N]
    heel_rad : array_like
        Steady heel, for the drag of the heeled hull. [rad]
    displacement_ratio : array_like
        Displacement over that of the speed-fuel points. Dimensionless.
    fins_kw : array_like
        Hydraulic or electric power of the fins. [kW]
    generator_l_per_h : array_like
        Generator fuel for the house. [l/h]
    generator_specific_fuel_g_per_kwh : float, optional
        Specific consumption of the generators; that of the engines if None. [g/kWh]

    Returns
    -------
    FuelSplit
        Broadcast to one shape; NaN in an input of a part makes that part and the total NaN.
        Where wind is missing the caller leaves it out and marks the result.
    """
    speed = np.asarray(speed_m_s, dtype=float)
    still = curve.fuel(speed) * displacement_factor(displacement_ratio)
    forces = (wave_force_n, wind_force_n, fin_active_force_n, fin_offset_force_n)
    powers = [brake_power_from_force(force, speed, engine) for force in forces]
    powers.append(brake_power_from_fuel(still, engine) * heel_drag_share(heel_rad))
    # A part without data is NaN itself but must not make the others NaN, so the sum that
    # gives the consumption per watt leaves it out.
    whole = sum((np.where(np.isnan(power), 0.0, power) for power in powers), np.zeros(()))
    price = fuel_per_extra_watt(still, whole, engine)
    waves, wind, active, offset, listed = (power * price for power in powers)
    consumption = generator_specific_fuel_g_per_kwh or engine.specific_fuel_g_per_kwh
    hydraulics = generator_fuel(fins_kw, consumption, engine.fuel_density_t_m3)
    parts = (
        still,
        waves,
        wind,
        active + hydraulics,
        offset,
        listed,
        np.asarray(generator_l_per_h, dtype=float),
        hydraulics,
    )
    shape = np.broadcast_shapes(*(part.shape for part in parts))
    return FuelSplit(*(p if p.shape == shape else np.broadcast_to(p, shape) for p in parts))


def fuel_band(
    total: npt.ArrayLike, alternatives: Mapping[str, tuple[npt.ArrayLike, npt.ArrayLike]]
) -> tuple[Array, Array]:
    """Band of a total from independent sources of uncertainty.

    Total and ends in one unit, usually [l/h], and of one broadcast shape.

    Parameters
    ----------
    total : array_like
        The total.
    alternatives : mapping of str to (array_like, array_like)
        For each source, the total at the two ends of its own band.

    Returns
    -------
    low, high : ndarray
        Ends of the band: the deviations to each side combine as the root of the sum of
        squares, the usual rule for independent errors. NaN where the total is NaN; a source
        that is NaN where the total is known adds nothing.
    """
    value = np.asarray(total, dtype=float)
    below, above = np.zeros_like(value), np.zeros_like(value)
    for ends in alternatives.values():
        shifts = [np.nan_to_num(np.asarray(end, float) - value, nan=0.0) for end in ends]
        below = below + np.minimum(np.minimum(*shifts), 0.0) ** 2
        above = above + np.maximum(np.maximum(*shifts), 0.0) ** 2
    return value - np.sqrt(below), value + np.sqrt(above)


def current_alternatives(
    total: npt.ArrayLike,
    speed_over_ground_m_s: npt.ArrayLike,
    drift_m_s: npt.ArrayLike,
    *,
    share: float = 0.25,
    unknown_m_s: float = 0.15,
) -> tuple[Array, Array]:
    """Fuel rates for the same distance with a more, and with a less, favourable current.

    Parameters
    ----------
    total : array_like
        Fuel rate. [l/h]
    speed_over_ground_m_s : array_like
        Speed over ground; 0 at rest, where the current does not matter. [m/s]
    drift_m_s : array_like
        Speed of the current, NaN where it is not known. [m/s]
    share, unknown_m_s : float
        Uncertainty of the current along the course: a share of a known current, or a speed
        [m/s] (0.3 knots) where none is known. Both are assumptions.

    Returns
    -------
    low, high : ndarray
        Fuel rates over the hours without that uncertainty: the rate times the ratio of the
        times that the distance takes. [l/h]
    """
    rate, sog = np.asarray(total, float), np.asarray(speed_over_ground_m_s, float)
    drift = np.asarray(drift_m_s, float)
    doubt = np.where(np.isnan(drift), unknown_m_s, share * np.abs(drift))
    moving = sog > 0.0
    doubt = np.where(moving, np.minimum(doubt, 0.5 * sog), 0.0)
    safe = np.where(moving, sog, 1.0)
    return rate * safe / (safe + doubt), rate * safe / (safe - doubt)


def standard_alternatives(
    split: FuelSplit,
    *,
    displacement_ratio: npt.ArrayLike = 1.0,
    heel_rad: npt.ArrayLike = 0.0,
    waves_others_l_per_h: Sequence[npt.ArrayLike] = (),
    wave_share: float = WAVE_SHARE,
    wind_share: float = 0.2,
    fin_share: float = 0.15,
) -> dict[str, tuple[Array, Array]]:
    """Totals at the ends of each source's band, for sources that need no second computation.

    The sources are:

    - the wave formula, either way by the largest difference of its other variants
      (``waves_others_l_per_h``, wave parts [l/h]) but at least ``wave_share``, and never below
      no waves at all; the variants do not show on which side the error is;
    - wind coefficients, ``wind_share`` either way;
    - fin drag coefficients, ``fin_share`` either way;
    - the exponent of displacement, 2/3 to 1;
    - drag of the heeled hull, from zero to 1 % of still water at 5 degrees.

    The three shares are assumptions. Totals in [l/h] in the shape of the split; heel in rad,
    positive to starboard; displacement ratio and shares are dimensionless.
    """
    total = split.total
    first, second = DISPLACEMENT_EXPONENTS
    ratio = np.asarray(displacement_ratio, dtype=float)
    heavier = split.still_water * (ratio ** (second - first) - 1.0)
    fins = split.fins_active + split.fins_offset
    high_list = split.still_water * heel_drag_share_high(heel_rad)
    bands = {
        "wind coefficients": (
            total - wind_share * split.wind,
            total + wind_share * split.wind,
        ),
        "fin drag coefficients": (total - fin_share * fins, total + fin_share * fins),
        "displacement exponent": (total, total + heavier),
        "drag of the heeled hull": (
            total - split.list,
            total - split.list + np.maximum(high_list, split.list),
        ),
    }
    if len(waves_others_l_per_h):
        away = np.asarray(wave_share * split.waves)
        for other in waves_others_l_per_h:
            away = np.maximum(away, np.abs(np.asarray(other, dtype=float) - split.waves))
        bands["wave formula"] = (total - np.minimum(away, split.waves), total + away)
    return bands
