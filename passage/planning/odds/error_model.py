"""How far a forecast may be off at each age: numbers, their sources, and correlated fields.

The form. At a place and an hour the true sea is taken as

* height: forecast x exp(s_h e_h), the forecast being the median;
* period: forecast + s_p e_p, direction: forecast + s_d e_d;
* wind: forecast + s_w (e_a along the forecast wind, e_c across it);
* current: forecast + s_u (e_e to the east, e_n to the north), where a current is given,

the same for every wave system. The ``s`` grow with the hours since the run. Each ``e`` is
a Gaussian field of variance 1 over place and time, with correlation

    exp(-(dt / T)^2 / 2 - (d / L)^2 / 2)

at ``dt`` hours and ``d`` km apart. So in each draw a passage meets the same sea however it
is cut into legs and whenever she leaves. The error of height is correlated with that of
period and with that of the wind along.
"""

from __future__ import annotations

from dataclasses import dataclass, fields, replace
from functools import cache
from importlib import resources
from typing import Any

import numpy as np
import numpy.typing as npt

from passage.cache import kept
from passage.units import DEG_RAD, HOUR_S

Array = npt.NDArray[np.float64]

#: Mean radius of the earth. [km]
_EARTH_KM = 6371.0
#: Waves summed into a field; this many keep the correlation to some 0.1.
WAVES = 64
#: Fields, in the order of their numbers: height, period, direction, wind along, across,
#: current east, north.
FIELDS = 7
#: Numbers of one wave: one for time and one for each of three axes through the earth.
WAVE_AXES = 4
#: Any fixed seed, so that the same question has the same answer.
SEED = 20260314
#: Numbers of a Sobol sequence are multiples of this.
SOBOL_STEP = 2.0**-30


@dataclass(frozen=True)
class ErrorModel:
    """Standard deviations by hours since the run, and their correlations.

    Sources. Height: North Atlantic, 29 deep-water buoys, error 0.2 m at the start to 0.9 m
    at the end of a long forecast (J. Mar. Sci. Eng. 2025, 13(6), 1185), here over a mean
    height of 2.5 m (assumption). Others lie on either side: one western Atlantic buoy 6, 8
    and 13 % mean absolute error at 1, 6 and 10 days (J. Mar. Sci. Eng. 2025, 13(10), 1968);
    an enclosed sea 33 to 48 %. Wind: 0.5 to 4.0 m/s in speed (the first source). Peak period of
    analyses against buoys 1.0 to 1.5 s, mean period 0.6 to 0.7 s (US Army Corps of
    Engineers, Gulf of Mexico 1995). Current, direction, growth of period, the shape between start
    and end, and every correlation are assumptions.

    Attributes
    ----------
    lead_h
        Hours since the run, one for each column; before the first and after the last the
        error is that of the nearest column.
    height_share, period_s, direction_deg, wind_m_s, current_m_s
        Standard deviations; those of wind and current are per component.
    period_share_most
        The standard deviation of a period is at most this share of it (assumption).
    correlation_h, correlation_km
        T and L of the correlation.
    height_period, height_wind
        Correlation of the errors of height with those of period and of wind along.
    """

    lead_h: tuple[float, ...] = (0.0, 24.0, 72.0, 120.0, 240.0)
    height_share: tuple[float, ...] = (0.08, 0.11, 0.17, 0.24, 0.36)
    period_s: tuple[float, ...] = (0.7, 0.8, 1.0, 1.2, 1.6)
    direction_deg: tuple[float, ...] = (10.0, 12.0, 17.0, 22.0, 35.0)
    wind_m_s: tuple[float, ...] = (0.5, 1.2, 2.0, 2.8, 4.0)
    current_m_s: tuple[float, ...] = (0.10, 0.10, 0.11, 0.12, 0.15)
    period_share_most: float = 0.12
    correlation_h: float = 24.0
    correlation_km: float = 400.0
    height_period: float = 0.5
    height_wind: float = 0.5

    def scaled(self, factor: float) -> ErrorModel:
        """The same model with all errors multiplied by ``factor``."""
        names = ("height_share", "period_s", "direction_deg", "wind_m_s", "current_m_s")
        larger: dict[str, Any] = {
            name: tuple(factor * one for one in getattr(self, name)) for name in names
        }
        return replace(self, **larger)

    def problems(self) -> list[str]:
        """Messages about what is wrong with the numbers; empty where nothing is."""
        found = []
        count = len(self.lead_h)
        if count < 1 or np.any(np.diff(self.lead_h) <= 0.0):
            found.append("lead_h must increase")
        for field in fields(self):
            values = np.atleast_1d(getattr(self, field.name))
            if not np.all(np.isfinite(values)) or np.any(values < 0.0):
                found.append(f"{field.name} must be numbers not below 0")
            if isinstance(getattr(self, field.name), tuple) and values.size != count:
                found.append(f"{field.name} must have {count} values, one for each lead_h")
        for name in ("correlation_h", "correlation_km"):
            if not getattr(self, name) > 0.0:
                found.append(f"{name} must be above 0")
        for name in ("height_period", "height_wind"):
            if getattr(self, name) > 1.0:
                found.append(f"{name} must be 0 to 1")
        if self.period_share_most > 0.2:
            found.append("period_share_most must be 0 to 0.2")
        return found


@dataclass(frozen=True)
class Spread:
    """Standard deviations at points: height as a share, period [s], direction [rad].

    Wind and current are per component, in m/s.
    """

    height: Array
    period_s: Array
    direction_rad: Array
    wind_m_s: Array
    current_m_s: Array


def spread_at(model: ErrorModel, lead_s: npt.ArrayLike) -> Spread:
    """Standard deviations at seconds since the run, linear between the columns; shape P."""
    hours = np.asarray(lead_s, dtype=float) / HOUR_S

    def at(values: tuple[float, ...]) -> Array:
        return np.asarray(np.interp(hours, model.lead_h, values))

    return Spread(
        at(model.height_share),
        at(model.period_s),
        at(model.direction_deg) * DEG_RAD,
        at(model.wind_m_s),
        at(model.current_m_s),
    )


def standard_normals(count: int, dimensions: int) -> Array:
    """A scrambled Sobol sequence as standard normal numbers, ``(count, dimensions)``.

    A longer sequence begins with the same numbers. Those of a usual plan come with the
    package.
    """
    shipped = _shipped_sequences().get(dimensions)
    if shipped is None or count > len(shipped):
        made = sobol_sequence(count, dimensions)
    else:
        made = np.asarray(shipped[:count], float) * SOBOL_STEP
    # A number may be exactly 0, whose quantile is infinite: less than a step is added.
    shares = np.clip(made, 2.0**-33, 1.0 - 2.0**-33)
    return kept("normals", shares, lambda: {"normals": _quantiles(shares)})["normals"]


def _quantiles(shares: Array) -> Array:
    from scipy.special import ndtri

    return np.asarray(ndtri(shares))


@cache
def _shipped_sequences() -> dict[int, npt.NDArray[np.uint32]]:
    """First numbers by count of dimensions, in steps; made by ``docs/tools/make_sobol.py``."""
    source = resources.files("passage") / "data" / "sobol_64.npz"
    with source.open("rb") as handle, np.load(handle) as file:
        return {int(name): file[name] for name in file.files}


def sobol_sequence(count: int, dimensions: int) -> Array:
    """The sequence by scipy, ``(count, dimensions)``, from 0 to below 1."""
    from scipy.stats.qmc import Sobol  # most of a second to load

    # A Sobol sequence is balanced only at powers of two: make so many and keep the first.
    power = int(np.ceil(np.log2(max(count, 2))))
    rng = np.random.default_rng(SEED)
    return np.asarray(Sobol(dimensions, scramble=True, rng=rng).random_base2(power))[:count]


@dataclass(frozen=True)
class Waves:
    """Wave numbers that fields are made of, ``(WAVES, 4)``: rad/s, then rad/km three times."""

    numbers: Array

    @classmethod
    def of(cls, model: ErrorModel) -> Waves:
        """Waves whose mean cosine is the correlation of the model."""
        scale = np.array([model.correlation_h * HOUR_S, *([model.correlation_km] * 3)])
        return cls(standard_normals(WAVES, WAVE_AXES) / scale)

    def phases(
        self, lat_deg: npt.ArrayLike, lon_deg: npt.ArrayLike, time_s: npt.ArrayLike
    ) -> Array:
        """Phase of every wave at points, ``P + (WAVES,)``. [rad]"""
        lat, lon = np.asarray(lat_deg, float) * DEG_RAD, np.asarray(lon_deg, float) * DEG_RAD
        # Seconds since 1970 are large; counted from a recent time they lose no precision.
        time = np.asarray(time_s, float) - 1.7e9
        here = (
            np.cos(lat) * np.cos(lon) * _EARTH_KM,
            np.cos(lat) * np.sin(lon) * _EARTH_KM,
            np.sin(lat) * _EARTH_KM,
        )
        axes = np.stack(np.broadcast_arrays(time, *here), axis=-1)
        return np.asarray(axes @ self.numbers.T)


def field_numbers(normals: Array) -> Array:
    """Reshape numbers ``(draws, FIELDS x 2 WAVES)`` to ``(FIELDS, draws, 2 WAVES)``."""
    return np.moveaxis(normals.reshape(len(normals), FIELDS, 2 * WAVES), 1, 0)


def field_values(phases: Array, numbers: Array, draw: npt.NDArray[np.int_]) -> Array:
    """The fields of unit variance at points, ``(FIELDS,) + P``.

    ``phases`` is ``P + (WAVES,)``, ``numbers`` comes from :func:`field_numbers`, and
    ``draw``, of shape P, is the draw wanted at each point.
    """
    shape = phases.shape[:-1]
    base = np.concatenate([np.cos(phases), np.sin(phases)], axis=-1).reshape(-1, 2 * WAVES)
    which = np.broadcast_to(draw, shape).reshape(-1)
    made = np.empty((FIELDS, which.size))
    for number in np.unique(which):
        at = np.flatnonzero(which == number)
        made[:, at] = numbers[:, number] @ base[at].T
    return (made / np.sqrt(WAVES)).reshape(FIELDS, *shape)


def joined(model: ErrorModel, unit: Array) -> Array:
    """Correlated fields from independent ones ``(FIELDS,) + P``: period, wind with height."""
    made = unit.copy()
    for index, share in ((1, model.height_period), (3, model.height_wind)):
        made[index] = share * unit[0] + np.sqrt(1.0 - share**2) * unit[index]
    return made
