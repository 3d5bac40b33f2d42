"""A forecast with drawn errors, sampled like an ensemble: each draw is a member."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING, Any

import numpy as np
import numpy.typing as npt

from passage.planning.odds.error_model import (
    FIELDS,
    WAVES,
    ErrorModel,
    Waves,
    field_numbers,
    field_values,
    joined,
    spread_at,
    standard_normals,
)

if TYPE_CHECKING:
    from passage.inputs.forecast import Conditions, Forecast

Array = npt.NDArray[np.float64]

#: Numbers for the doubt in the model; they come first, where the sequence is most even.
DOUBTS = 5
#: Numbers of one draw.
DIMENSIONS = DOUBTS + FIELDS * 2 * WAVES
#: Points computed at once; keeps the phases of the waves within some 100 MB.
_AT_ONCE = 100_000


class DrawnForecast:
    """``draws`` versions of a forecast; ``sample`` is called as on the forecast.

    Parameters
    ----------
    forecast : Forecast
        Its first member is the middle of the draws.
    model : ErrorModel
        How far it may be off.
    run_s : float
        Time of the run; the age of the forecast counts from it. [s since 1970]
    draws : int
        Number of versions.
    normals : ndarray, optional
        Standard normal numbers to draw with, ``(draws, DIMENSIONS)``, in place of the
        usual ones.
    """

    def __init__(
        self,
        forecast: Forecast,
        model: ErrorModel,
        run_s: float,
        draws: int,
        normals: Array | None = None,
    ) -> None:
        self._forecast, self._model, self._run_s = forecast, model, run_s
        if normals is None:
            normals = standard_normals(draws, DIMENSIONS)
        #: Standard normal numbers for the doubt of the model, ``(draws, DOUBTS)``.
        self.doubts = normals[:, :DOUBTS]
        self._numbers = field_numbers(normals[:, DOUBTS:])
        self._waves = Waves.of(model)
        self.n_members = draws

    def __getattr__(self, name: str) -> Any:
        """Everything else is the forecast's own."""
        return getattr(self._forecast, name)

    def sample(
        self,
        lat_deg: npt.ArrayLike,
        lon_deg: npt.ArrayLike,
        time_s: npt.ArrayLike,
        member: npt.ArrayLike = 0,
    ) -> Conditions:
        """Sea, wind and current of draw ``member`` at points."""
        lat, lon, time, draw = np.broadcast_arrays(
            np.asarray(lat_deg, float),
            np.asarray(lon_deg, float),
            np.asarray(time_s, float),
            np.asarray(member, int),
        )
        sky = self._forecast.sample(lat, lon, time)
        errors = self.errors(lat, lon, time, draw)
        return with_errors(sky, self._model, time - self._run_s, errors)

    def errors(self, lat: Array, lon: Array, time: Array, draw: npt.NDArray[np.int_]) -> Array:
        """The error fields, of unit variance, ``(FIELDS,) + P``."""
        flat = [np.ascontiguousarray(a).reshape(-1) for a in (lat, lon, time)]
        which = np.ascontiguousarray(draw).reshape(-1)
        made = np.empty((FIELDS, which.size))
        for start in range(0, which.size, _AT_ONCE):
            part = slice(start, start + _AT_ONCE)
            phases = self._waves.phases(*(a[part] for a in flat))
            made[:, part] = field_values(phases, self._numbers, which[part])
        return joined(self._model, made).reshape(FIELDS, *lat.shape)


def with_errors(sky: Conditions, model: ErrorModel, lead_s: Array, errors: Array) -> Conditions:
    """Conditions with errors added, from fields of unit variance ``(FIELDS,) + P``.

    What is missing stays missing. A full spectrum changes in height only.
    """
    spread = spread_at(model, lead_s)
    higher = np.exp(spread.height * errors[0])
    period = sky.peak_period_s
    most = model.period_share_most * period
    longer = np.minimum(spread.period_s[..., None], most) * errors[1][..., None]
    turned = (spread.direction_rad * errors[2])[..., None]
    u, v = sky.wind_u_m_s, sky.wind_v_m_s
    speed = np.hypot(u, v)
    # A calm has no direction: east is as good as any.
    calm = speed == 0.0
    east = np.where(calm, 1.0, u / np.where(calm, 1.0, speed))
    north = np.where(calm, 0.0, v / np.where(calm, 1.0, speed))
    along, across = spread.wind_m_s * errors[3], spread.wind_m_s * errors[4]
    spectrum = sky.spectrum
    if spectrum is not None:
        spectrum = replace(spectrum, density=spectrum.density * (higher**2)[..., None, None])
    return replace(
        sky,
        height_m=sky.height_m * higher[..., None],
        total_height_m=sky.total_height_m * higher,
        peak_period_s=period + longer,
        from_rad=sky.from_rad + turned,
        wind_u_m_s=u + along * east - across * north,
        wind_v_m_s=v + along * north + across * east,
        current_u_m_s=sky.current_u_m_s + spread.current_m_s * errors[5],
        current_v_m_s=sky.current_v_m_s + spread.current_m_s * errors[6],
        spectrum=spectrum,
    )
