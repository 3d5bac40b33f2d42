"""Quantities of one yacht in one sea, for scientists: arrays in, named arrays out.

Every function broadcasts its arguments and computes what a plan computes at a point, by
the same functions. Units of users: metres, seconds, degrees, knots. NaN in gives NaN out.
"""

from __future__ import annotations

from dataclasses import dataclass, fields, replace
from typing import TYPE_CHECKING, Any

import numpy as np
import numpy.typing as npt

from passage.api.options import PathLike, check
from passage.api.points import at_points, vessel_of
from passage.errors import PassageError
from passage.inputs.forecast.systems import CALM_PERIOD_S
from passage.inputs.vessel import Place
from passage.planning.voyage.evaluate import Evaluation, evaluate
from passage.planning.voyage.forces import wave_forces
from passage.planning.voyage.rolling import Choices
from passage.planning.voyage.seas import sea_channels
from passage.units import deg_to_rad

if TYPE_CHECKING:
    from passage.inputs.vessel import Vessel

Array = npt.NDArray[np.float64]


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
        Kind of sea, for the usual shape of its spectrum.
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

    Notes
    -----
    The roll equation ``phi'' + 2 zeta w0 phi' + b |phi'| phi' + w0^2 phi = w0^2 (slope - fins)``
    in a random sea, with limits, stall, lag and delay of the fins by statistical linearisation
    (Gelb and Vander Velde 1968, from memory); the effective wave slope by strip theory (Salvesen,
    Tuck and Faltinsen 1970) unless the vessel file gives a number. docs/roll.md has the equations,
    docs/roll-validation.md how far simulations in time agree.

    Examples
    --------
    >>> found = passage.roll("brambling_may.toml", height_m=[1.0, 2.0], peak_period_s=8.0,
    ...                      encounter_deg=90.0, speed_kn=11.0)
    >>> found.roll_active_rms_deg.shape
    (2,)
    >>> bool((found.roll_active_rms_deg < found.roll_centred_rms_deg).all())
    True
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

    Notes
    -----
    ``M = rho/2 U^2 A (dCL/da) delta lever`` of all fins holds the heel; the offset's drag is
    induced, ``rho/2 U^2 A CL^2/(pi e AR)``: about the square of the heel held over the square of
    the speed (thin-wing theory; Oswald efficiency from memory). docs/fuel.md has both.

    Examples
    --------
    >>> held = passage.fin_offset("brambling_may.toml", heel_deg=[0.5, 1.0], speed_kn=12.0)
    >>> round(float(held.fin_offset_deg[1] / held.fin_offset_deg[0]), 2)
    2.0
    >>> bool(held.fuel_l_per_h[1] > 3.0 * held.fuel_l_per_h[0])
    True
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

    Returns
    -------
    ndarray
        Broadcast shape. [N]

    Notes
    -----
    ``R = 2 sum S(w) D(mu) R(w, mu)/za^2`` over the directional spectrum, with the regular-wave
    value of ITTC 7.5-04-01-01.1 (2021), Liu and Papanikolaou (2020); a motor yacht lies outside
    the ships it was made for, so a plan shows a band (docs/fuel.md).

    Examples
    --------
    >>> force = passage.added_resistance("brambling_may.toml", height_m=[0.0, 1.0, 2.0],
    ...                                  peak_period_s=7.0, encounter_deg=180.0, speed_kn=11.0)
    >>> float(force[0]), round(float(force[2] / force[1]), 1)
    (0.0, 4.0)
    """
    check({"wave_method": method}, ("wave_method",))
    yacht, way, shape = at_points(
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

    Notes
    -----
    Accelerations by strip theory with roll, phases kept. Sickness by the dose of ISO 2631-1:1997,
    Annex D, ``a_w sqrt(T)/3`` per cent, and the index of O'Hanlon and McCauley in the form of Lloyd
    (1989); interruptions by tipping (docs/comfort.md).

    Examples
    --------
    >>> felt = passage.comfort("brambling_may.toml", height_m=2.0, peak_period_s=7.0,
    ...                        encounter_deg=150.0, speed_kn=11.0, place=(12.0, 0.0, 4.0))
    >>> bool(0.0 < felt.motion_sickness_percent < 100.0)
    True
    """
    check({"fins": fins}, ("fins",))
    vessel = vessel_of(vessel)
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
    yacht, way, shape = at_points(
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
