"""One yacht at separate points, each with its own sea, in the form that planning takes."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np
import numpy.typing as npt

from passage.api.reading import read_vessel
from passage.errors import PassageError
from passage.inputs.forecast.conditions import Conditions
from passage.inputs.forecast.systems import CALM_PERIOD_S
from passage.inputs.forecast.waves import usual_spread
from passage.physics.waves.peakedness import GAMMA_SWELL, gamma_at_place, peak_by_steepness
from passage.physics.waves.spectrum import COS2_WIDTH_RAD
from passage.planning.voyage.march import March
from passage.planning.voyage.yacht import Yacht
from passage.units import deg_to_rad, knots_to_m_s
from passage.variables import COVERAGE

if TYPE_CHECKING:
    from passage.inputs.vessel import Vessel

Array = npt.NDArray[np.float64]

#: Up to this many different speeds get spectral tables of their own, as a plan's do; more
#: are interpolated between tables half a knot apart.
MOST_OWN_SPEEDS = 24


def vessel_of(given: Any) -> Vessel:
    """The vessel, read if a path is given."""
    return given if hasattr(given, "particulars") else read_vessel(given)


def at_points(
    vessel: Any,
    height_m: Any,
    peak_period_s: Any,
    encounter_deg: Any,
    speed_kn: Any,
    system: str,
    gamma: Any,
    spread_deg: Any,
    heel_deg: Any = 0.0,
    *,
    hours: float = 1.0,
) -> tuple[Yacht, March, tuple[int, ...]]:
    """A yacht at separate points, each a passage of one segment going north."""
    given = {
        "height_m": height_m,
        "peak_period_s": peak_period_s,
        "encounter_deg": encounter_deg,
        "speed_kn": speed_kn,
    }
    arrays = {name: _array(name, value) for name, value in given.items()}
    shapes = {"gamma": gamma, "spread_deg": spread_deg}
    more = [_array(name, value) for name, value in shapes.items() if value is not None]
    shape = np.broadcast_shapes(*(a.shape for a in (*arrays.values(), *more)), np.shape(heel_deg))

    def column(values: Any) -> Array:
        return np.broadcast_to(np.asarray(values, float), shape).reshape(-1, 1).astype(float)

    height, period, angle, knots = (column(value) for value in arrays.values())
    yacht = Yacht(vessel_of(vessel))
    speeds = np.unique(knots[np.isfinite(knots)])
    if speeds.size <= MOST_OWN_SPEEDS:
        yacht.pin(*knots_to_m_s(speeds))
    calm = height == 0.0
    period = np.where(calm, CALM_PERIOD_S, period)
    if gamma is not None:
        shaped = column(gamma)
    elif system == "swell":
        shaped = np.full(height.shape, GAMMA_SWELL)
    else:
        shaped = gamma_at_place(peak_by_steepness("peak", height, period)[1])
    width = column(deg_to_rad(spread_deg)) if spread_deg is not None else usual_spread(system)
    width = np.where(calm, COS2_WIDTH_RAD, np.broadcast_to(width, height.shape))
    known = np.isfinite(height + period + angle + knots)
    # Bow north: waves from dead ahead meet her at 180 degrees.
    from_rad = np.where(known, (np.pi - deg_to_rad(angle)) % (2.0 * np.pi), np.nan)
    none, zero = np.full(height.shape, np.nan), np.zeros(height.shape)
    speed = np.where(known, knots_to_m_s(knots), np.nan)
    masked = np.full(height.shape, COVERAGE.index("masked"), np.int8)
    sky = Conditions(
        height_m=np.where(known, height, np.nan)[..., None],
        peak_period_s=period[..., None],
        from_rad=from_rad[..., None],
        gamma=np.where(calm, 1.0, shaped)[..., None],
        spread_rad=width[..., None],
        system_names=(system,),
        total_height_m=np.where(known, height, np.nan),
        wind_u_m_s=none,
        wind_v_m_s=none,
        current_u_m_s=none,
        current_v_m_s=none,
        depth_m=none,
        coverage=np.where(known, np.int8(COVERAGE.index("ok")), masked),
        wind_coverage=masked,
        current_coverage=masked,
    )
    way = March(
        time_s=zero,
        end_time_s=zero + hours * 3600.0,
        hours=zero + hours,
        speed_through_water_m_s=speed,
        speed_over_ground_m_s=speed,
        heading_rad=zero,
        course_rad=zero,
        conditions=sky,
        no_way=np.zeros(height.shape, dtype=bool),
        rounds=1,
        converged=True,
    )
    return yacht, way, shape


#: Lowest and highest value of a quantity, and its unit.
_RANGES = {
    "height_m": (0.0, 40.0, "m"),
    "peak_period_s": (1.0, 30.0, "s"),
    "encounter_deg": (-360.0, 360.0, "deg"),
    "speed_kn": (0.0, 60.0, "kn"),
    "gamma": (1.0, 7.0, ""),
    "spread_deg": (6.0, 80.0, "deg"),
}


def _array(name: str, value: Any) -> Array:
    """The values as an array; those out of range are refused, NaN stays."""
    try:
        array = np.asarray(value, dtype=float)
    except (TypeError, ValueError) as err:
        raise PassageError(f"{name}: {err}.") from err
    low, high, unit = _RANGES[name]
    with np.errstate(invalid="ignore"):
        wrong = (array < low) | (array > high)
    if np.any(wrong):
        first = f"{array[wrong].flat[0]:.6g} {unit}".rstrip()
        raise PassageError(
            f"{name} {first} is out of range. Give {low:g} to {high:g} {unit}".rstrip() + "."
        )
    return array
