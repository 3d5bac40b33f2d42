"""Sea, wind and movement in each interval of a log.

They come from the log's own columns where these are filled, and otherwise from forecast files
at the logged position and time.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
import numpy.typing as npt
from pyproj import Geod

from passage.inputs.forecast import Conditions, Forecast
from passage.inputs.records.log import SEA_WORDS, PassageLog
from passage.physics.resistance.current import hold_speed_over_ground
from passage.physics.waves.dispersion import encounter_angle
from passage.physics.waves.peakedness import GAMMA_SWELL
from passage.physics.waves.spectrum import COS2_WIDTH_RAD, SWELL_WIDTH_RAD, gamma_from_steepness
from passage.units import HOUR_S, deg_to_rad

Array = npt.NDArray[np.float64]
Flags = npt.NDArray[np.bool_]

#: Longest time between two positions from which a heading is taken [s].
_LONGEST_GAP_S = 6.0 * HOUR_S
#: Peak period used for a flat calm, which has none [s].
_CALM_PERIOD_S = 5.0


@dataclass(frozen=True, eq=False)
class LoggedSea:
    """Sea, wind and movement of each interval; waves ``(n, systems)``, the rest (n,).

    Wind is towards east and north, and 0 where ``wind_known`` is False. A NaN height means that
    there is no such system.
    """

    height_m: Array
    peak_period_s: Array
    mu_rad: Array
    gamma: Array
    spread_rad: Array
    heading_rad: Array
    speed_m_s: Array
    speed_over_ground_m_s: Array
    wind_u_m_s: Array
    wind_v_m_s: Array
    wind_known: Flags
    notes: tuple[str, ...]

    @property
    def known(self) -> Flags:
        """Whether sea, heading and speed are all known."""
        sea = np.any(np.isfinite(self.height_m), axis=-1)
        return sea & np.isfinite(self.heading_rad) & np.isfinite(self.speed_m_s)


def logged_sea(log: PassageLog, forecast: Forecast | None = None) -> LoggedSea:
    """Combine a log with a forecast at its positions and times."""
    n = len(log)
    notes: list[str] = list(log.notes)
    met = _sampled(log, forecast)
    systems = 1 if met is None else met.height_m.shape[-1]
    empty = np.full((n, systems), np.nan)
    height, period, from_rad, gamma, spread = (
        (empty.copy(), empty.copy(), empty.copy(), empty.copy(), empty.copy())
        if met is None
        else (
            np.array(met.height_m),
            np.array(met.peak_period_s),
            np.array(met.from_rad),
            np.array(met.gamma),
            np.array(met.spread_rad),
        )
    )
    own = np.isfinite(log.significant_height_m)
    calm = own & (log.significant_height_m == 0.0)
    own &= calm | (np.isfinite(log.peak_period_s) & np.isfinite(log.wave_from_rad))
    own_period = np.where(calm, _CALM_PERIOD_S, log.peak_period_s)
    own_gamma, own_spread = _shapes(log, own_period)
    for target, values in (
        (height, log.significant_height_m),
        (period, own_period),
        (from_rad, np.where(calm, 0.0, log.wave_from_rad)),
        (gamma, own_gamma),
        (spread, own_spread),
    ):
        target[own] = np.nan
        target[own, 0] = values[own]
    if np.any(own):
        notes.append(f"{int(own.sum())} intervals use the sea noted in the log")
    heading = _headings(log, notes)
    wind_u, wind_v, wind_known = _wind(log, met, notes)
    stw, sog = _speeds(log, met, heading, notes)
    return LoggedSea(
        height_m=height,
        peak_period_s=period,
        mu_rad=encounter_angle(from_rad, heading[:, None])[0],
        gamma=gamma,
        spread_rad=spread,
        heading_rad=heading,
        speed_m_s=stw,
        speed_over_ground_m_s=sog,
        wind_u_m_s=wind_u,
        wind_v_m_s=wind_v,
        wind_known=wind_known,
        notes=tuple(notes),
    )


def _shapes(log: PassageLog, peak_period_s: Array) -> tuple[Array, Array]:
    """Peak enhancement and spread of the logged sea, as those of a forecast's wave systems."""
    by_steepness = gamma_from_steepness(log.significant_height_m, peak_period_s)
    swell = log.sea == SEA_WORDS.index("swell")
    gamma = np.where(swell, GAMMA_SWELL, by_steepness)
    return gamma, np.where(swell, SWELL_WIDTH_RAD, COS2_WIDTH_RAD)


def _sampled(log: PassageLog, forecast: Forecast | None) -> Conditions | None:
    """Conditions of every interval; NaN where the log gives no position."""
    if forecast is None:
        return None
    placed = np.isfinite(log.lat_deg) & np.isfinite(log.lon_deg)
    if not np.any(placed):
        return None
    # Intervals without a position are sampled at another one and set to NaN below.
    first = int(np.flatnonzero(placed)[0])
    met = forecast.sample(
        np.where(placed, log.lat_deg, log.lat_deg[first]),
        np.where(placed, log.lon_deg, log.lon_deg[first]),
        np.where(placed, log.time_s, log.time_s[first]),
    )
    if met.spectrum is not None and not np.any(np.isfinite(met.height_m)):
        return None
    lost = ~placed

    def without(values: Array) -> Array:
        out = np.array(values, dtype=float)
        out[lost] = np.nan
        return out

    return replace(
        met,
        height_m=without(met.height_m),
        wind_u_m_s=without(met.wind_u_m_s),
        wind_v_m_s=without(met.wind_v_m_s),
        current_u_m_s=without(met.current_u_m_s),
        current_v_m_s=without(met.current_v_m_s),
    )


def _headings(log: PassageLog, notes: list[str]) -> Array:
    """Logged headings, or the course to the next position."""
    heading = np.array(log.heading_rad)
    lost = np.isnan(heading)
    if np.any(lost) and len(log) > 1:
        forth = np.minimum(np.arange(len(log)) + 1, len(log) - 1)
        back = forth - 1
        near = (log.time_s[forth] - log.time_s[back]) <= _LONGEST_GAP_S
        placed = np.isfinite(log.lat_deg + log.lon_deg)
        able = lost & near & placed[forth] & placed[back]
        if np.any(able):
            azimuth, _, moved = Geod(ellps="WGS84").inv(
                log.lon_deg[back][able],
                log.lat_deg[back][able],
                log.lon_deg[forth][able],
                log.lat_deg[forth][able],
            )
            course = np.where(np.asarray(moved) > 0.0, deg_to_rad(np.asarray(azimuth)), np.nan)
            heading[able] = course % (2.0 * np.pi)
            notes.append(f"{int(able.sum())} headings are taken from the positions")
    return heading


def _wind(log: PassageLog, met: Conditions | None, notes: list[str]) -> tuple[Array, Array, Flags]:
    own_u = -log.wind_speed_m_s * np.sin(log.wind_from_rad)
    own_v = -log.wind_speed_m_s * np.cos(log.wind_from_rad)
    if met is not None:
        own_u = np.where(np.isnan(own_u), met.wind_u_m_s, own_u)
        own_v = np.where(np.isnan(own_v), met.wind_v_m_s, own_v)
    known = np.isfinite(own_u + own_v)
    if not np.all(known):
        notes.append(f"{int((~known).sum())} intervals have no wind: taken as still air")
    return np.where(known, own_u, 0.0), np.where(known, own_v, 0.0), known


def _speeds(
    log: PassageLog, met: Conditions | None, heading: Array, notes: list[str]
) -> tuple[Array, Array]:
    """Speeds through the water and over the ground, one from the other where needed. [m/s]"""
    stw, sog = log.speed_through_water_m_s, log.speed_over_ground_m_s
    lacks = np.isnan(stw) & np.isfinite(sog)
    if not np.any(lacks):
        return stw, np.where(np.isnan(sog), stw, sog)
    calm = np.zeros(len(log))
    u = calm if met is None else np.nan_to_num(met.current_u_m_s, nan=0.0)
    v = calm if met is None else np.nan_to_num(met.current_v_m_s, nan=0.0)
    bearing = np.nan_to_num(heading, nan=0.0)
    from_ground = hold_speed_over_ground(bearing, sog, u, v).speed_through_water_m_s
    blind = lacks & ((u == 0.0) & (v == 0.0))
    if np.any(blind):
        notes.append(
            f"{int(blind.sum())} intervals have only speed over ground and no current: "
            "it is taken as speed through the water"
        )
    stw = np.where(lacks, from_ground, stw)
    return stw, np.where(np.isnan(sog), stw, sog)
