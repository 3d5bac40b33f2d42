"""Quantities of one yacht in one sea, for scientists: arrays in, named arrays out.

Every function broadcasts its arguments and computes what a plan computes at a point, by
the same functions. Outside units: metres, seconds, degrees, knots. NaN in gives NaN out.
"""

from __future__ import annotations

from dataclasses import dataclass, fields, replace
from typing import TYPE_CHECKING, Any

import numpy as np
import numpy.typing as npt

from passage.api.options import PathLike, check
from passage.errors import PassageError
from passage.inputs.forecast.conditions import Conditions
from passage.inputs.forecast.systems import CALM_PERIOD_S
from passage.inputs.forecast.waves import usual_gamma, usual_spread
from passage.inputs.vessel import Place
from passage.physics.waves.spectrum import COS2_WIDTH_RAD, gamma_from_steepness
from passage.planning.voyage.evaluate import Evaluation, evaluate, sea_channels
from passage.planning.voyage.forces import wave_forces
from passage.planning.voyage.march import March
from passage.planning.voyage.prepare import as_vessel
from passage.planning.voyage.rolling import Choices
from passage.planning.voyage.yacht import Yacht
from passage.units import deg_to_rad, knots_to_m_s
from passage.variables import COVERAGE

if TYPE_CHECKING:
    from passage.inputs.vessel import Vessel

Array = npt.NDArray[np.float64]

#: Up to this many different speeds get spectral tables of their own, as a plan's do; more
#: are interpolated between tables half a knot apart.
MOST_OWN_SPEEDS = 24


@dataclass(frozen=True, eq=False)
class Quantities:
    """Arrays of one shape; the names are those of a plan's columns."""

    def to_dataframe(self) -> Any:
        """A column a quantity, a row a point (arrays are flattened)."""
        import pandas as pd

        return pd.DataFrame({f.name: np.ravel(getattr(self, f.name)) for f in fields(self)})

    def __repr__(self) -> str:
        parts = []
        for field in fields(self):
            values = np.asarray(getattr(self, field.name))
            shown = f"{values:.4g}" if values.ndim == 0 else f"array {values.shape}"
            parts.append(f"{field.name}={shown}")
        return f"{type(self).__name__}({', '.join(parts)})"


@dataclass(frozen=True, eq=False, repr=False)
class Roll(Quantities):
    """Roll with fins centred and active; significant is single amplitude, twice the rms."""

    roll_centred_rms_deg: Array
    roll_active_rms_deg: Array
    roll_centred_significant_deg: Array
    roll_active_significant_deg: Array
    roll_reduction_percent: Array
    fin_angle_rms_deg: Array
    fin_at_limit_percent: Array
    encounter_period_s: Array


@dataclass(frozen=True, eq=False, repr=False)
class FinOffset(Quantities):
    """Fins holding a steady heel: their offset, the heel left, and the price.

    Heel and offset are positive to starboard; ``fuel_l_per_h`` is for the offset alone.
    """

    fin_offset_deg: Array
    steady_heel_deg: Array
    fin_drag_offset_n: Array
    fuel_l_per_h: Array


@dataclass(frozen=True, eq=False, repr=False)
class Comfort(Quantities):
    """What is felt at a place, fins as given."""

    vertical_acceleration_rms_g: Array
    lateral_acceleration_rms_g: Array
    motion_sickness_percent: Array
    motion_sickness_index_percent: Array
    interruptions_low_per_minute: Array
    interruptions_high_per_minute: Array


def roll(
    vessel: PathLike | Vessel,
    *,
    height_m: npt.ArrayLike,
    peak_period_s: npt.ArrayLike,
    encounter_deg: npt.ArrayLike,
    speed_kn: npt.ArrayLike,
    system: str = "total",
    gamma: npt.ArrayLike | None = None,
    spread_deg: npt.ArrayLike | None = None,
) -> Roll:
    """Roll of a yacht in a sea, with fins centred and active.

    Parameters
    ----------
    vessel : Vessel or path
    height_m, peak_period_s : array_like
        Significant height and peak period. [m], [s]
    encounter_deg : array_like
        0 following, 90 beam, 180 head; either side. [deg]
    speed_kn : array_like
        Through the water, 0 or more. [kn]
    system : {"total", "wind_sea", "swell"}
        Which shape of spectrum is usual for it.
    gamma, spread_deg : array_like, optional
        Peak enhancement (1 to 7) and circular width [deg] instead of the usual ones.

    Returns
    -------
    Roll
        Arrays of the broadcast shape.

    Raises
    ------
    PassageError
        What is wrong with the vessel file or a value.
    """
    shape, made = _evaluated(
        vessel, height_m, peak_period_s, encounter_deg, speed_kn, system, gamma, spread_deg
    )
    return Roll(**_named(Roll, made, shape))


def fin_offset(
    vessel: PathLike | Vessel,
    *,
    heel_deg: npt.ArrayLike,
    speed_kn: npt.ArrayLike,
    height_m: npt.ArrayLike = 0.0,
    peak_period_s: npt.ArrayLike = CALM_PERIOD_S,
    encounter_deg: npt.ArrayLike = 90.0,
    heel: str = "fins",
) -> FinOffset:
    """Fin offset that holds a steady heel, the heel that is left, and what it costs.

    Parameters
    ----------
    vessel : Vessel or path
    heel_deg : array_like
        Heel without correction, positive to starboard. [deg]
    speed_kn : array_like
        Through the water, within the speed-fuel points. [kn]
    height_m, peak_period_s, encounter_deg : array_like
        The sea she works in, as in :func:`roll`; calm if not given.
    heel : {"fins", "limit"}
        Hold all of it, or down to the owner's limit.

    Returns
    -------
    FinOffset
        Arrays of the broadcast shape.
    """
    shape, made = _evaluated(
        vessel,
        height_m,
        peak_period_s,
        encounter_deg,
        speed_kn,
        heel_deg=heel_deg,
        heel=heel,
    )
    values = made.values | {"fuel_l_per_h": made.values["fuel_fins_offset_l"]}
    return FinOffset(**_named(FinOffset, replace(made, values=values), shape))


def added_resistance(
    vessel: PathLike | Vessel,
    *,
    height_m: npt.ArrayLike,
    peak_period_s: npt.ArrayLike,
    encounter_deg: npt.ArrayLike,
    speed_kn: npt.ArrayLike,
    method: str = "all-heading",
    system: str = "total",
    gamma: npt.ArrayLike | None = None,
    spread_deg: npt.ArrayLike | None = None,
) -> Array:
    """Mean added resistance in waves, against the motion. [N]

    Arguments as in :func:`roll`; ``method`` "all-heading", "stawave-1" or "kreitner".
    """
    check({"wave_method": method}, ("wave_method",))
    yacht, way, shape = _at_points(
        vessel, height_m, peak_period_s, encounter_deg, speed_kn, system, gamma, spread_deg
    )
    speed = way.speed_through_water_m_s
    mu, sea = sea_channels(yacht, way.conditions, way.heading_rad, speed)
    force, _ = wave_forces(yacht, way, mu, sea, method)
    return force.reshape(shape)


def comfort(
    vessel: PathLike | Vessel,
    *,
    height_m: npt.ArrayLike,
    peak_period_s: npt.ArrayLike,
    encounter_deg: npt.ArrayLike,
    speed_kn: npt.ArrayLike,
    place: str | tuple[float, float, float] | None = None,
    hours: float = 2.0,
    fins: str = "active",
    system: str = "total",
    gamma: npt.ArrayLike | None = None,
    spread_deg: npt.ArrayLike | None = None,
) -> Comfort:
    """Accelerations, motion sickness and interruptions at a place on board.

    Parameters
    ----------
    place : str or (x, y, z), optional
        A place of the vessel file by name, or metres forward of midship, to starboard and
        above the waterline; none: the worst of the file's places for each quantity.
    hours : float
        Time spent in this sea, for motion sickness, up to six. [h]
    fins : {"active", "centred", "absent"}
    height_m, peak_period_s, encounter_deg, speed_kn, system, gamma, spread_deg
        As in :func:`roll`.

    Returns
    -------
    Comfort
        Arrays of the broadcast shape.
    """
    check({"fins": fins}, ("fins",))
    vessel = _vessel(vessel)
    if place is not None:
        vessel = replace(vessel, places=(_place(vessel, place),))
    elif not vessel.places:
        raise PassageError(f"{vessel.path}: has no [[places]]. Give place=(x_m, y_m, z_m).")
    shape, made = _evaluated(
        vessel,
        height_m,
        peak_period_s,
        encounter_deg,
        speed_kn,
        system,
        gamma,
        spread_deg,
        hours=hours,
        fins=fins,
    )
    return Comfort(**_named(Comfort, made, shape))


def _place(vessel: Vessel, place: str | tuple[float, float, float]) -> Place:
    if isinstance(place, str):
        for one in vessel.places:
            if one.name == place:
                return one
        names = ", ".join(repr(one.name) for one in vessel.places) or "none"
        raise PassageError(f"place {place!r}: the vessel file has {names}.")
    x, y, z = (float(value) for value in place)
    return Place(name="place", x_m=x, y_m=y, z_m=z)


def _vessel(given: Any) -> Vessel:
    from passage.api.questions import read_vessel

    return read_vessel(given) if not hasattr(given, "particulars") else as_vessel(given)


def _named(kind: type, made: Evaluation, shape: tuple[int, ...]) -> dict[str, Array]:
    return {f.name: np.asarray(made.values[f.name]).reshape(shape) for f in fields(kind)}


def _evaluated(
    vessel: Any,
    height_m: Any,
    peak_period_s: Any,
    encounter_deg: Any,
    speed_kn: Any,
    system: str = "total",
    gamma: Any = None,
    spread_deg: Any = None,
    *,
    heel_deg: Any = 0.0,
    hours: float = 1.0,
    fins: str = "active",
    heel: str = "fins",
) -> tuple[tuple[int, ...], Evaluation]:
    check({"heel": heel, "system": system}, ("heel", "system"))
    yacht, way, shape = _at_points(
        vessel,
        height_m,
        peak_period_s,
        encounter_deg,
        speed_kn,
        system,
        gamma,
        spread_deg,
        heel_deg,
        hours=hours,
    )
    list_rad = deg_to_rad(np.broadcast_to(np.asarray(heel_deg, float), shape).reshape(-1, 1))
    choices = Choices(fins=fins, heel=heel, list_rad=list_rad, band=False)
    return shape, evaluate(yacht, way, choices)


def _at_points(
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
    """A yacht at scattered points, each a passage of one segment going north."""
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
    yacht = Yacht(_vessel(vessel))
    speeds = np.unique(knots[np.isfinite(knots)])
    if speeds.size <= MOST_OWN_SPEEDS:
        yacht.pin(*knots_to_m_s(speeds))
    calm = height == 0.0
    period = np.where(calm, CALM_PERIOD_S, period)
    if gamma is not None:
        shaped = column(gamma)
    elif system == "total":
        with np.errstate(invalid="ignore"):
            shaped = gamma_from_steepness(height, period)
    else:
        shaped = np.full(height.shape, usual_gamma(system))
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
