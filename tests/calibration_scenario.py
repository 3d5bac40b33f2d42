"""An invented log with known truth, made with the physics of the plan plus noise.

It goes the plan's way, through ``evaluate`` with the true vessel, not through the model
the calibration fits with.
"""

from __future__ import annotations

from pathlib import Path
from typing import Any

import numpy as np

from passage.inputs.forecast import Conditions
from passage.inputs.vessel import Vessel, update_vessel_text, vessel_from_text
from passage.physics.fins import use
from passage.physics.waves.spectrum import COS2_WIDTH_RAD, SWELL_WIDTH_RAD, gamma_from_steepness
from passage.planning.voyage.evaluate import evaluate
from passage.planning.voyage.march import March
from passage.planning.voyage.rolling import Choices
from passage.planning.voyage.yacht import Yacht
from passage.units import KNOT_M_S

VESSEL = Path(__file__).parent.parent / "sample_forecasts" / "brambling.toml"
#: What the vessel file says, and what is true.
FILE_SLOPE, TRUE_SLOPE = 0.80, 0.66
TRUE_DAMPING_FACTOR = 1.35
FILE_EFFICIENCY, TRUE_EFFICIENCY = 0.90, 0.74
TRUE_LEVEL, TRUE_TILT = 1.07, 1.04
ROLL_NOISE, FUEL_NOISE = 0.08, 0.02
SPEEDS_KN = (8.0, 11.0, 13.0)


def file_text() -> str:
    """The vessel file the owner starts from."""
    text = VESSEL.read_text(encoding="utf-8")
    return update_vessel_text(text, {("roll", "wave_slope_coefficient"): FILE_SLOPE})


def true_text() -> str:
    """The vessel as she really is."""
    vessel = vessel_from_text(file_text())
    speed = np.array(vessel.propulsion.speed_kn)
    # A tilt about the middle of the logged speeds, as a power of speed.
    middle = np.sqrt(SPEEDS_KN[0] * SPEEDS_KN[-1])
    half = 0.5 * np.log(SPEEDS_KN[-1] / SPEEDS_KN[0])
    place = np.clip(np.log(speed / middle) / half, -1.0, 1.0)
    fuel = np.array(vessel.propulsion.fuel_l_per_h) * TRUE_LEVEL * TRUE_TILT**place
    roll = vessel.roll
    return update_vessel_text(
        file_text(),
        {
            ("roll", "wave_slope_coefficient"): TRUE_SLOPE,
            ("roll", "damping_ratio"): roll.damping_ratio * TRUE_DAMPING_FACTOR,
            ("roll", "damping_ratio_per_kn"): roll.damping_ratio_per_kn * TRUE_DAMPING_FACTOR,
            ("roll", "quadratic_damping"): roll.quadratic_damping * TRUE_DAMPING_FACTOR,
            ("fins", 0, "efficiency"): TRUE_EFFICIENCY,
            ("propulsion", "fuel_l_per_h"): [float(value) for value in fuel],
        },
    )


class Voyages:
    """The same intervals for every seed; only the noise differs.

    It serves as a forecast as well: half the intervals lie in narrow swell, half
    in wind sea, as partitions of a wave model give them.
    """

    def __init__(self, intervals: int = 120, true: Vessel | None = None) -> None:
        rng = np.random.default_rng(20260314)
        self.time_s = np.datetime64("2026-03-01T00:30").astype("datetime64[s]").astype(float)
        self.time_s = self.time_s + 3600.0 * np.arange(intervals)
        self.speed_kn = rng.choice(SPEEDS_KN, intervals)
        self.heading_deg = rng.choice(np.arange(0, 360, 15), intervals).astype(float)
        self.swell = rng.random(intervals) < 0.5
        self.height_m = np.round(rng.uniform(0.6, 2.2, intervals), 1)
        self.period_s = np.round(
            np.where(
                self.swell,
                rng.uniform(9.0, 15.0, intervals),
                3.0 + 2.4 * np.sqrt(self.height_m),
            ),
            1,
        )
        by_steepness = gamma_from_steepness(self.height_m, self.period_s)
        self.gamma = np.where(self.swell, 5.0, by_steepness)
        self.spread_rad = np.where(self.swell, SWELL_WIDTH_RAD, COS2_WIDTH_RAD)
        self.from_deg = rng.choice(np.arange(0, 360, 10), intervals).astype(float)
        self.wind_kn = np.round(rng.uniform(0.0, 25.0, intervals))
        self.wind_from_deg = self.from_deg
        self.active = rng.random(intervals) < 0.6
        self.roll_deg, self.fuel = self._truth(true or vessel_from_text(true_text()))

    def sample(self, lat_deg: Any, lon_deg: Any, time_s: Any, member: Any = 0) -> Conditions:
        """What a forecast would say at the logged times; everywhere the same."""
        at = np.rint((np.asarray(time_s) - self.time_s[0]) / 3600.0).astype(int)
        wind, wind_from = self.wind_kn[at] * KNOT_M_S, np.deg2rad(self.wind_from_deg[at])
        none = np.full(at.shape, np.nan)
        good = np.zeros(at.shape, dtype=np.int8)
        return Conditions(
            height_m=self.height_m[at][:, None],
            peak_period_s=self.period_s[at][:, None],
            from_rad=np.deg2rad(self.from_deg[at])[:, None],
            gamma=self.gamma[at][:, None],
            spread_rad=self.spread_rad[at][:, None],
            system_names=("swell or wind sea",),
            total_height_m=self.height_m[at],
            wind_u_m_s=-wind * np.sin(wind_from),
            wind_v_m_s=-wind * np.cos(wind_from),
            current_u_m_s=none,
            current_v_m_s=none,
            depth_m=none,
            coverage=good,
            wind_coverage=good,
            current_coverage=good,
        )

    def _truth(self, vessel: Vessel) -> tuple[np.ndarray, np.ndarray]:
        """What the plan's own functions give at every interval, heel and offset with it."""
        yacht = Yacht(vessel)
        speed = self.speed_kn * KNOT_M_S
        heading = np.deg2rad(self.heading_deg)
        n = speed.size
        way = March(
            time_s=self.time_s,
            hours=np.ones(n),
            speed_through_water_m_s=speed,
            speed_over_ground_m_s=speed,
            heading_rad=heading,
            course_rad=heading,
            no_way=np.zeros(n, dtype=bool),
            end_time_s=self.time_s + 1800.0,
            conditions=self.sample(0.0, 0.0, self.time_s),
            rounds=0,
            converged=True,
        )
        list_rad = float(np.deg2rad(vessel.loading.list_deg))
        active, centred = (
            evaluate(yacht, way, Choices(fins=fins, list_rad=list_rad, band=False))
            for fins in ("active", "centred")
        )
        # Fins that the rules of the trade centre (slamming) are logged as centred.
        self.active = self.active & (active.fin_use == use.ACTIVE)
        roll = np.where(self.active, active.active.roll_rms_rad, centred.centred.roll_rms_rad)
        fuel = np.where(self.active, active.split.main_engines, centred.split.main_engines)
        return np.rad2deg(roll), fuel

    def csv(
        self,
        seed: int,
        rows: np.ndarray | None = None,
        noise: float = 1.0,
        *,
        own_sea: bool = False,
    ) -> str:
        """The log as the owner would hand it in, with his own sea or without."""
        rng = np.random.default_rng(seed)
        n = self.speed_kn.size
        roll = self.roll_deg * np.exp(noise * ROLL_NOISE * rng.standard_normal(n))
        fuel = self.fuel * np.exp(noise * FUEL_NOISE * rng.standard_normal(n))
        header = (
            "time,lat,lon,heading_deg,speed_through_water_kn,fuel_l_per_h,roll_rms_deg,fins,"
            "wind_speed_kn,wind_from_deg"
        )
        lines = [header + (",significant_height_m,peak_period_s,wave_from_deg,sea" * own_sea)]
        for at in range(n) if rows is None else rows:
            word = "active" if self.active[at] else "centred"
            day, hour = divmod(int(at), 24)
            kind = "swell" if self.swell[at] else "wind sea"
            sea = f",{self.height_m[at]},{self.period_s[at]},{self.from_deg[at]},{kind}" * own_sea
            lines.append(
                f"2026-03-{1 + day:02d}T{hour:02d}:30Z,45.0,-6.0,{self.heading_deg[at]},"
                f"{self.speed_kn[at]},{fuel[at]:.3f},{roll[at]:.4f},{word},{self.wind_kn[at]},"
                f"{self.wind_from_deg[at]}{sea}"
            )
        return "\n".join(lines) + "\n"
