"""The owner's limits along a track: one rule for every command.

Roll and accelerations are judged by the root mean square, and holding on by the mean, over a
window of ``[limits] window_h`` that slides along the track (``windows.py``). The dose of
motion sickness has its own six hours. Steady heel is judged point by point.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
import numpy.typing as npt

from passage.planning.voyage.legs import leg_starts
from passage.planning.voyage.windows import LegWindows, Running

if TYPE_CHECKING:
    from passage.inputs.vessel import Vessel

Array = npt.NDArray[np.float64]
Bools = npt.NDArray[np.bool_]
Ints = npt.NDArray[np.intp]

#: Heel above the limit by less than this counts as within it: half the resolution of a
#: clinometer [deg].
OVER_DEG = 0.05
#: (leg key, limit key).
LIMIT_KEYS: tuple[tuple[str, str], ...] = (
    ("window_roll_significant_deg", "roll_significant_deg"),
    ("window_lateral_acceleration_rms_g", "lateral_acceleration_rms_g"),
    ("window_vertical_acceleration_rms_g", "vertical_acceleration_rms_g"),
    ("motion_sickness_percent", "motion_sickness_percent"),
    ("steady_heel_worst_deg", "steady_heel_deg"),
    ("window_interruptions_per_minute", "interruptions_per_minute"),
)
#: Limit key to words.
LIMIT_WORDS: dict[str, str] = {
    "roll_significant_deg": "significant roll",
    "lateral_acceleration_rms_g": "lateral acceleration",
    "vertical_acceleration_rms_g": "vertical acceleration",
    "motion_sickness_percent": "motion sickness",
    "steady_heel_deg": "steady heel",
    "interruptions_per_minute": "having to hold on",
}
#: Limit key to (name of the point values, 1 for a mean or 2 for a root mean square).
WINDOWED: dict[str, tuple[str, int]] = {
    "roll_significant_deg": ("roll_{fins}_rms_deg", 2),
    "lateral_acceleration_rms_g": ("lateral_acceleration_rms_g", 2),
    "vertical_acceleration_rms_g": ("vertical_acceleration_rms_g", 2),
    "interruptions_per_minute": ("interruptions_high_per_minute", 1),
}


@dataclass(frozen=True, eq=False)
class LegLimit:
    """One limit on every leg; arrays ``L + (legs,)``, ``limit`` ``(legs,)``, NaN for none.

    ``worst`` is the largest known value; ``middle_h`` its time in hours since departure, the
    middle of a window of ``length_h`` hours (0 for a point); ``over_h`` the hours above the
    limit; ``unknown`` whether part of the leg is not known.
    """

    key: str
    limit_key: str
    limit: Array
    worst: Array
    middle_h: Array
    length_h: Array
    over_h: Array
    unknown: Bools

    @property
    def exceeded(self) -> Bools:
        """Whether a known value is over the limit."""
        with np.errstate(invalid="ignore"):
            return np.asarray(self.worst > self.limit + slack(self.limit_key, self.limit))

    @property
    def value(self) -> Array:
        """``worst``; NaN where part of the leg is not known and the rest is within the limit."""
        return np.where(self.unknown & ~self.exceeded, np.nan, self.worst)


def window_name(window_h: float) -> str:
    """Words after "the worst", such as ``hour`` or ``3 h``."""
    return "hour" if window_h == 1.0 else f"{window_h:g} h"


def slack(limit_key: str, limit: npt.ArrayLike) -> Array:
    """Amount by which a value may exceed its limit and still count as within it."""
    limit = np.asarray(limit, dtype=float)
    return np.where(limit_key == "steady_heel_deg", OVER_DEG, 1e-9 * limit)


def exceeds(limit_key: str, value: float, limit: float) -> bool:
    """Whether a known value, of either sign, is over its limit."""
    return bool(abs(value) > limit + float(slack(limit_key, limit)))


def leg_limits(
    vessel: Vessel,
    leg: Ints,
    at_rest: Bools,
    hours: Array,
    values: Mapping[str, Array],
    fins: str = "active",
) -> list[LegLimit]:
    """Every quantity that can have a limit, on every leg.

    Parameters
    ----------
    vessel : Vessel
        Vessel with ``[limits]``.
    leg, at_rest : ndarray, (n,)
        Leg of each segment, from 0 and not decreasing, and whether it is a stay.
    hours : ndarray, L + (n,)
        Duration of the segments. [h]
    values : mapping
        Names of ``variables.py`` to point values ``L + (n,)``; a quantity without values
        is left out.
    fins
        The user's choice of fins, which decides whether active or centred roll is judged.
    """
    first = leg_starts(leg)
    running: Running | None = None
    felt = "active" if fins == "active" else "centred"
    found: list[LegLimit] = []
    for key, limit_key in LIMIT_KEYS:
        limit = limits_of(vessel, at_rest[first], limit_key)
        name, power = WINDOWED.get(limit_key, (limit_key, 0))
        name = name.format(fins=felt)
        if name not in values:
            continue
        points = np.asarray(values[name], dtype=float)
        above = limit + slack(limit_key, limit)
        if power:
            running = running or Running(hours, leg, at_rest, vessel.limits.window_h)
            scale = 2.0 if limit_key == "roll_significant_deg" else 1.0
            made = running.of(scale * points, power=power, level=above)
        else:
            made = _at_points(np.abs(points), hours, leg, first, above)
        found.append(LegLimit(key, limit_key, limit, **vars(made)))
    return found


def limits_of(vessel: Vessel, at_rest: Iterable[bool], limit_key: str) -> Array:
    """One limit of the vessel file on every leg; NaN where there is none."""
    sets = (vessel.limits.at_rest if rest else vessel.limits.underway for rest in at_rest)
    raw = (getattr(one, limit_key) for one in sets)
    return np.array([np.nan if one is None else float(one) for one in raw])


def _at_points(values: Array, hours: Array, leg: Ints, first: Ints, above: Array) -> LegWindows:
    """Worst values of each leg for a quantity judged point by point."""
    shape = np.broadcast_shapes(values.shape, np.shape(hours))
    values, hours = np.broadcast_to(values, shape), np.broadcast_to(hours, shape)
    worst = np.fmax.reduceat(values, first, axis=-1)
    with np.errstate(invalid="ignore"):
        over = np.add.reduceat(np.where(values > above[leg], hours, 0.0), first, axis=-1)
    unknown = np.logical_or.reduceat(np.isnan(values), first, axis=-1)
    middles = np.cumsum(hours, axis=-1) - 0.5 * hours
    when = np.full(worst.shape, np.nan)
    for i, (start, stop) in enumerate(zip(first, np.r_[first[1:], leg.size], strict=True)):
        part = np.nan_to_num(values[..., start:stop], nan=-np.inf)
        at = np.argmax(part, axis=-1)[..., None]
        when[..., i] = np.take_along_axis(middles[..., start:stop], at, axis=-1)[..., 0]
    return LegWindows(worst, when, np.zeros(worst.shape), over, unknown)
