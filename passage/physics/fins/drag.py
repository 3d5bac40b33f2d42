"""Drag of fins, of the rudder that balances them, and of a heeled hull.

Induced drag goes with the square of the lift coefficient. With a steady and an oscillating
part of the *true* incidence (fin angle plus inflow by roll), the mean square is the sum of
the two squares: up to stall, the drags of offset and of activity add without a cross term.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from passage.physics.special import normal_share_below
from passage.units import DEG_RAD, RHO_SEA_KG_M3

Array = npt.NDArray[np.float64]

#: Profile drag of a fin in service, with roughness (common practice, no source).
PROFILE_DRAG = 0.010
#: Span efficiency of a fin (from memory).
OSWALD_EFFICIENCY = 0.9
#: Angle of the fins below the horizontal: common practice, no source [rad].
FIN_CANT_RAD = 30.0 * DEG_RAD
#: Growth of drag with the square of incidence beyond stall [1/rad2]. For a fin that stalls at
#: 26 degrees it gives at 40 degrees the drag of a flat plate, 1.2 sin(angle). Assumption.
STALL_GROWTH_PER_RAD2 = 4.5
#: Distance below a limit, in rms, from which the excess counts as zero: less than a millionth
#: of the mean square.
OUT_OF_REACH = 4.5
#: Share of still-water resistance that 20 degrees of heel adds (about 1 % at 5 degrees).
#: Assumption: no source for motor yachts was found.
HEEL_DRAG_AT_20_DEG = 0.10
#: High end of the band of the heeled hull's drag at 5 degrees, as a share of still water.
HEEL_DRAG_HIGH_AT_5_DEG = 0.01


@dataclass(frozen=True, kw_only=True)
class FinPairDrag:
    """Drag particulars of ``count`` fins of ``area_m2`` each that move alike.

    ``aspect_ratio`` is the effective one (with the image in the hull);
    ``lift_slope_per_rad`` is that of the lift coefficient on one fin's area;
    ``flow_fraction`` is the speed of the inflow over the ship's speed. With
    ``stall_angle_rad`` None, stall is ignored.
    """

    area_m2: float
    aspect_ratio: float
    lift_slope_per_rad: float
    count: int = 2
    oswald_efficiency: float = OSWALD_EFFICIENCY
    profile_drag_coefficient: float = PROFILE_DRAG
    flow_fraction: float = 1.0
    stall_angle_rad: float | None = None

    def pressure_area(self, speed_m_s: npt.ArrayLike) -> Array:
        """Dynamic pressure times the area of all fins of the pair. [N]"""
        inflow = self.flow_fraction * np.asarray(speed_m_s, dtype=float)
        return 0.5 * RHO_SEA_KG_M3 * inflow**2 * self.area_m2 * self.count


@dataclass(frozen=True)
class FinDrag:
    """Drag of one pair, each part of the broadcast shape. [N]

    ``profile_n`` is drag at zero lift, ``active_n`` that of the oscillating incidence,
    ``offset_n`` what the mean incidence adds.
    """

    profile_n: Array
    active_n: Array
    offset_n: Array


def profile_drag(speed_m_s: npt.ArrayLike, fins: FinPairDrag) -> Array:
    """Drag of deployed fins at zero lift. [m/s] -> [N]"""
    return fins.pressure_area(speed_m_s) * fins.profile_drag_coefficient


def _mean_square_beyond(limit: float, mean: Array, rms: Array) -> Array:
    """Mean of the square by which a Gaussian exceeds ``limit`` on either side."""
    mean, rms = np.broadcast_arrays(np.abs(mean), rms)
    total = np.zeros(mean.shape)
    # Without a mean, both sides are equal.
    sides = (mean, -mean) if np.any(mean) else (mean,)
    for side in sides:
        excess = side - limit
        # Most points are so far below the limit that they never exceed it.
        some = ~(excess < -OUT_OF_REACH * rms)
        excess, spread = excess[some], rms[some]
        # A very small rms counts as zero; it would overflow below.
        moves = ~(spread < 1e-9)
        spread = np.where(moves, spread, 1.0)
        z = excess / spread
        density = np.exp(-0.5 * z**2) / np.sqrt(2.0 * np.pi)
        spread_out = (excess**2 + spread**2) * normal_share_below(z) + excess * spread * density
        still = np.maximum(excess, 0.0) ** 2
        # Rounding far below the limit may give a tiny negative value.
        total[some] += np.where(moves, np.maximum(spread_out, 0.0), still)
    return total * (2.0 / len(sides))


def mean_drag_coefficient(
    mean_incidence_rad: npt.ArrayLike,
    rms_incidence_rad: npt.ArrayLike,
    fins: FinPairDrag,
    beyond_rms_rad: npt.ArrayLike | None = None,
) -> Array:
    """Mean drag coefficient due to lift, without profile drag. Dimensionless.

    ``CL_a^2 (mean^2 + rms^2) / (pi a e)``, exact for linear lift (Prandtl's induced drag).
    Where a stall angle is given, the growth beyond stall is added: from ``beyond_rms_rad``,
    the root mean square of the incidence beyond stall, if it is known, otherwise for a
    Gaussian incidence.

    Incidences in rad, of one broadcast shape P, the mean signed. The coefficient is on the
    area of one fin and even in the mean; NaN in gives NaN out.
    """
    mean = np.asarray(mean_incidence_rad, dtype=float)
    rms = np.asarray(rms_incidence_rad, dtype=float)
    per_square = fins.lift_slope_per_rad**2 / (np.pi * fins.aspect_ratio * fins.oswald_efficiency)
    drag = per_square * (mean**2 + rms**2)
    if beyond_rms_rad is not None:
        drag = drag + STALL_GROWTH_PER_RAD2 * np.asarray(beyond_rms_rad, dtype=float) ** 2
    elif fins.stall_angle_rad is not None:
        beyond = _mean_square_beyond(fins.stall_angle_rad, mean, rms)
        drag = drag + STALL_GROWTH_PER_RAD2 * beyond
    return np.asarray(drag)


def fin_drag(
    speed_m_s: npt.ArrayLike,
    mean_incidence_rad: npt.ArrayLike,
    rms_incidence_rad: npt.ArrayLike,
    fins: FinPairDrag,
    beyond_rms_rad: npt.ArrayLike | None = None,
) -> FinDrag:
    """Drag of one pair of fins, split by cause.

    Parameters
    ----------
    speed_m_s : array_like
        Speed through the water. [m/s]
    mean_incidence_rad, rms_incidence_rad : array_like
        Mean of the true incidence and rms about it, from the roll response: fin angle, after
        the fin's limits, plus inflow by roll. [rad]
    fins : FinPairDrag
        The pair.
    beyond_rms_rad : array_like, optional
        Root mean square of the incidence beyond the stall, from the roll response, which
        allows for the fin's angle limit. Without it the incidence is taken as Gaussian. [rad]

    Returns
    -------
    FinDrag
        Profile, active and offset parts; all even in the mean. NaN in, NaN out.

    Notes
    -----
    The inflow by roll tilts the lift and gives a small forward force. It is left out, because
    no saving from active fins has been measured.
    """
    pressure_area = fins.pressure_area(speed_m_s)
    mean = np.asarray(mean_incidence_rad, dtype=float)
    rms = np.asarray(rms_incidence_rad, dtype=float)
    working = mean_drag_coefficient(0.0 * mean, rms, fins)
    both = mean_drag_coefficient(mean, rms, fins)
    if beyond_rms_rad is not None and fins.stall_angle_rad is not None:
        # The known drag beyond stall is split between activity and offset in the proportion
        # of a Gaussian with and without the mean.
        free = mean_drag_coefficient(0.0 * mean, rms, fins, 0.0)
        linear = mean_drag_coefficient(mean, rms, fins, 0.0)
        known = mean_drag_coefficient(mean, rms, fins, beyond_rms_rad) - linear
        bell = both - linear
        some = ~(bell <= 0.0)
        share = np.where(some, (working - free) / np.where(some, bell, 1.0), 1.0)
        working, both = free + share * known, linear + known
    shape = np.broadcast_shapes(pressure_area.shape, both.shape)
    return FinDrag(
        np.broadcast_to(pressure_area * fins.profile_drag_coefficient, shape).copy(),
        pressure_area * working,
        pressure_area * (both - working),
    )


@dataclass(frozen=True, kw_only=True)
class Rudder:
    """All rudders together: ``area_m2`` in all, ``x_m`` forward of midship (negative)."""

    area_m2: float
    aspect_ratio: float
    x_m: float
    oswald_efficiency: float = OSWALD_EFFICIENCY

    @classmethod
    def estimate(cls, length_m: float, draught_m: float) -> Rudder:
        """Rudder of 3 % of length times draught at the stern, aspect ratio 1.5.

        Common practice for motor yachts, no source; its drag is small. Lengths in [m].
        """
        return cls(area_m2=0.03 * length_m * draught_m, aspect_ratio=1.5, x_m=-0.47 * length_m)


def fin_side_force(
    speed_m_s: npt.ArrayLike,
    mean_incidence_rad: npt.ArrayLike,
    fins: FinPairDrag,
    cant_rad: float = FIN_CANT_RAD,
) -> Array:
    """Steady side force of a pair with an offset: both fins push to the same side. [N]

    ``cant_rad`` is the angle of the fins below the horizontal. The sign is that of the mean
    incidence; :func:`rudder_drag` uses only the magnitude of the couple.
    """
    lift = fins.lift_slope_per_rad * np.asarray(mean_incidence_rad, dtype=float)
    return fins.pressure_area(speed_m_s) * lift * np.sin(cant_rad)


def rudder_drag(
    speed_m_s: npt.ArrayLike,
    fin_side_force_n: npt.ArrayLike,
    fin_x_m: npt.ArrayLike,
    rudder: Rudder,
) -> Array:
    """Induced drag of the rudders that balance the fins' steady yawing couple.

    Fins that point below the horizontal push sideways as they lift: an opposed pair with an
    offset pushes to one side at ``fin_x_m`` and turns her. The rudder balances the couple,
    ``F_r x_r = sum(F_f x_f)``, at the cost of induced drag. The net side force causes leeway,
    whose drag is left out.

    Parameters
    ----------
    speed_m_s : array_like
        Speed through the water, > 0. [m/s]
    fin_side_force_n, fin_x_m : array_like (..., pairs)
        Side force of each pair, with one sign for each side [N], and its position forward of
        midship [m]. The couples are summed over the last axis.
    rudder : Rudder
        The rudders.

    Returns
    -------
    ndarray (...)
        Drag; 0 at speed 0. [N]
    """
    speed = np.asarray(speed_m_s, dtype=float)
    couple = np.sum(
        np.asarray(fin_side_force_n, dtype=float) * np.asarray(fin_x_m, dtype=float),
        axis=-1,
    )
    force = couple / rudder.x_m
    pressure_area = 0.5 * RHO_SEA_KG_M3 * speed**2 * rudder.area_m2
    moving = speed > 0.0
    induced = force**2 / (
        np.where(moving, pressure_area, 1.0)
        * np.pi
        * rudder.aspect_ratio
        * rudder.oswald_efficiency
    )
    return np.where(moving, induced, np.where(np.isnan(speed), np.nan, 0.0))


def heel_drag_share(heel_rad: npt.ArrayLike, at_20_deg: float = HEEL_DRAG_AT_20_DEG) -> Array:
    """Extra still-water resistance of a heeled hull, as a share of the upright one.

    ``at_20_deg * 6.0 |heel|^1.7``: the form of Keuning & Sonnenberg (1998) for sailing yachts
    (from memory), scaled to its value at 20 degrees. Even in heel.

    ``heel_rad`` in rad, any shape, up to some 20 degrees; the share is dimensionless.
    """
    heel = np.abs(np.asarray(heel_rad, dtype=float))
    return at_20_deg * 6.0 * heel**1.7


def heel_drag_share_high(heel_rad: npt.ArrayLike) -> Array:
    """High end of the band of :func:`heel_drag_share`; the low end is zero.

    Proportional to heel, with 1 % at 5 degrees, so that a small list is not free of cost;
    never below :func:`heel_drag_share`. An assumption.

    ``heel_rad`` in rad, any shape; the share is dimensionless.
    """
    heel = np.abs(np.asarray(heel_rad, dtype=float))
    linear = HEEL_DRAG_HIGH_AT_5_DEG * heel / (5.0 * DEG_RAD)
    return np.maximum(linear, heel_drag_share(heel))
