"""A yacht, tracks and a uniform sea for the planning tests; no files but the yacht's."""

import typing
from dataclasses import replace
from pathlib import Path

import numpy as np

from passage.inputs.forecast import Conditions
from passage.inputs.route import Waypoint, build_route, make_track
from passage.inputs.vessel import read_vessel
from passage.physics.waves.spectrum import COS2_WIDTH_RAD
from passage.planning.voyage.yacht import Yacht

SAMPLES = Path(__file__).parents[1] / "sample_forecasts"


def vessel(**roll):
    """The sample yacht, upright, with changes to ``[roll]``."""
    made = read_vessel(SAMPLES / "brambling.toml")
    loading = replace(made.loading, list_deg=0.0, burn=(), events=())
    return replace(made, loading=loading, roll=replace(made.roll, **roll))


def yacht(**changes):
    return Yacht(replace(vessel(), **changes))


def route(*points, kind="rhumb"):
    """Waypoints as (lat, lon) or (lat, lon, stay_h)."""
    made = [
        Waypoint(
            name=f"P{i}",
            lat_deg=p[0],
            lon_deg=p[1],
            kind=kind,
            stay_h=p[2] if len(p) > 2 else 0.0,
        )
        for i, p in enumerate(points)
    ]
    return build_route("made", "made", made)


def track(*points, speed_kn=12.0, minutes=20.0, kind="rhumb"):
    return make_track(route(*points, kind=kind), speed_kn, minutes)


class UniformForecast:
    """The same sea, wind and current everywhere and always."""

    n_members = 1
    sources = ()
    notes = ()
    groups: typing.ClassVar[dict] = {}

    def __init__(
        self,
        height_m=2.0,
        peak_period_s=8.0,
        from_deg=270.0,
        wind=(np.nan, np.nan),
        current=(np.nan, np.nan),
        until_s=np.inf,
    ):
        self.sea = (height_m, peak_period_s, from_deg)
        self.wind, self.current, self.until_s = wind, current, until_s
        self.has_wind = bool(np.isfinite(wind[0]))
        self.has_current = bool(np.isfinite(current[0]))

    def sample(self, lat_deg, lon_deg, time_s, member=0):
        shape = np.broadcast_shapes(np.shape(lat_deg), np.shape(lon_deg), np.shape(time_s))
        after = np.broadcast_to(np.asarray(time_s) > self.until_s, shape)
        height, period, from_deg = self.sea

        def system(value):
            return np.where(after, np.nan, np.full(shape, value))[..., None]

        def flat(value):
            return np.where(after, np.nan, np.full(shape, value))

        code = np.where(after, 2, 0).astype(np.int8)
        absent = np.full(shape, 4, dtype=np.int8)
        return Conditions(
            height_m=system(height),
            peak_period_s=system(period),
            from_rad=system(np.radians(from_deg)),
            gamma=system(3.3),
            spread_rad=system(COS2_WIDTH_RAD),
            system_names=("total",),
            total_height_m=flat(height),
            wind_u_m_s=flat(self.wind[0]),
            wind_v_m_s=flat(self.wind[1]),
            current_u_m_s=flat(self.current[0]),
            current_v_m_s=flat(self.current[1]),
            depth_m=flat(np.nan),
            coverage=code,
            wind_coverage=code if np.isfinite(self.wind[0]) else absent,
            current_coverage=code if np.isfinite(self.current[0]) else absent,
        )
