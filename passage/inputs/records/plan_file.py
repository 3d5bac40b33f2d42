"""The JSON of a plan, read back to compare a log with it."""

from __future__ import annotations

import hashlib
import json
from contextlib import suppress
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from typing import Any

import numpy as np
import numpy.typing as npt

from passage.errors import PlanFileError, VesselError
from passage.files import why_not_plain
from passage.inputs.vessel import Vessel, read_vessel, vessel_from_text

Array = npt.NDArray[np.float64]

MAX_BYTES = 200_000_000
#: Beyond any number of a plan, seconds since 1970 included.
_GREATEST = 1e11
#: Columns of the track without which no log can be compared with it.
NEEDED = ("leg", "time_s", "hours", "lat_deg", "lon_deg", "distance_nm")
#: Columns of the track as a plan writes them; those not needed may be missing in part (null).
TRACK_COLUMNS = (
    "leg",
    "time_s",
    "hours",
    "lat_deg",
    "lon_deg",
    "track_course_deg",
    "distance_nm",
    "speed_through_water_kn",
    "fuel_l",
    "fuel_low_l",
    "fuel_high_l",
    "fuel_main_engines_l",
    "roll_centred_rms_deg",
    "roll_active_rms_deg",
    "roll_active_low_rms_deg",
    "roll_active_high_rms_deg",
    "steady_heel_deg",
    "fin_angle_rms_deg",
    "fin_offset_deg",
    "significant_height_m",
    "encounter_angle_deg",
    "peak_period_s",
    "wave_from_deg",
    "wind_speed_kn",
    "wind_from_deg",
)
OPTIONAL = tuple(name for name in TRACK_COLUMNS if name not in NEEDED)


@dataclass(frozen=True, eq=False)
class PlanFile:
    """A plan as it was printed.

    ``track`` has arrays (n,) in the units of their names, NaN where the plan had none,
    and ``end_lat_deg``, ``end_lon_deg`` (n + 1,); ``legs`` are the plan's own rows.
    ``vessel`` is read from the plan's own copy of the vessel file, else from the file given.
    ``run_s`` is the newest run of its forecasts; None where no file names one.
    """

    file: str
    sha256: str
    legs: tuple[dict[str, Any], ...]
    track: dict[str, Array]
    vessel: Vessel
    options: dict[str, Any]
    departure_s: float
    route: str
    totals: dict[str, Any]
    run_s: float | None = None

    @property
    def leg_index(self) -> npt.NDArray[np.int64]:
        """Leg of each segment, from 0."""
        return np.asarray(self.track["leg"], dtype=np.int64) - 1


def read_plan(path: Path, vessel: Path | None = None) -> PlanFile:
    """Read what `passage plan --format json` wrote.

    Raises
    ------
    PlanFileError
        It is not such a file, or of a version that has no track.
    VesselError
        It holds no vessel file, and none was given.
    """
    if reason := why_not_plain(path):
        raise PlanFileError(f"{path}: {reason}. Give the JSON of passage plan.")
    try:
        if path.stat().st_size > MAX_BYTES:
            raise PlanFileError(f"{path}: is over {MAX_BYTES:,} bytes. Is it a plan?")
        raw = path.read_bytes()
        data = json.loads(raw.decode("utf-8-sig"))
    except OSError as err:
        raise PlanFileError(f"{path}: cannot be read: {err.strerror}.") from err
    except (ValueError, RecursionError) as err:
        raise PlanFileError(
            f"{path}: is not JSON. Give what passage plan --format json wrote."
        ) from err
    if not isinstance(data, dict) or not isinstance(data.get("track"), dict):
        raise PlanFileError(
            f"{path}: has no track. Give the JSON of passage plan, made again if it is of an "
            "earlier version."
        )
    track = _track(path, data["track"])
    legs = data.get("legs")
    count = int(track["leg"].max())
    if (
        not isinstance(legs, list)
        or len(legs) != count
        or any(not isinstance(x, dict) for x in legs)
    ):
        raise PlanFileError(f"{path}: its legs are not those of its track. Make the plan again.")
    text = data.get("vessel_text")
    if vessel is not None:
        ship = read_vessel(vessel)
    elif isinstance(text, str) and text:
        ship = vessel_from_text(text, f"{path} (vessel_text)")
    else:
        raise VesselError(f"{path}: holds no vessel file. Give it with --vessel.")
    given = data.get("provenance")
    options = given.get("options") if isinstance(given, dict) else None
    totals = data.get("totals")
    return PlanFile(
        file=str(path),
        sha256=hashlib.sha256(raw).hexdigest(),
        legs=tuple(legs),
        track=track,
        vessel=ship,
        options=options if isinstance(options, dict) else {},
        departure_s=float(track["time_s"][0] - 1800.0 * track["hours"][0]),
        route=str(data.get("route", "")),
        totals=totals if isinstance(totals, dict) else {},
        run_s=_run(given),
    )


def _run(given: Any) -> float | None:
    """The newest run of a forecast that the plan's provenance names. [s]"""
    files = given.get("forecasts") if isinstance(given, dict) else None
    found = []
    for file in files if isinstance(files, list) else []:
        run = file.get("run_utc") if isinstance(file, dict) else None
        if isinstance(run, str):
            with suppress(ValueError):
                found.append(datetime.fromisoformat(run).timestamp())
    return max(found, default=None)


def _track(path: Path, given: dict[str, Any]) -> dict[str, Array]:
    found: dict[str, Array] = {}
    try:
        for name in (*TRACK_COLUMNS, "end_lat_deg", "end_lon_deg"):
            if name in given:
                found[name] = np.array(
                    [np.nan if one is None else float(one) for one in given[name]], dtype=float
                )
    except (TypeError, ValueError) as err:
        raise PlanFileError(f"{path}: track.{name} is not a list of numbers.") from err
    for name, values in found.items():
        if np.any(np.isinf(values) | (np.abs(values) > _GREATEST)):
            raise PlanFileError(
                f"{path}: track.{name} holds a number that no plan gives. Make the plan again."
            )
    n = found["leg"].size if "leg" in found else 0
    for name in NEEDED:
        if not n or name not in found or found[name].size != n or np.any(np.isnan(found[name])):
            raise PlanFileError(
                f"{path}: track.{name} is missing or has gaps: the plan gives no time or place "
                "there. A plan that does not reach its end cannot be reviewed."
            )
    for name in ("end_lat_deg", "end_lon_deg"):
        if name not in found or found[name].size != n + 1 or np.any(np.isnan(found[name])):
            raise PlanFileError(f"{path}: track.{name} is missing. Make the plan again.")
    for name in OPTIONAL:
        if name not in found:
            found[name] = np.full(n, np.nan)
        elif found[name].size != n:
            raise PlanFileError(f"{path}: track.{name} does not have one value for each segment.")
    leg = found["leg"]
    if np.any(np.diff(leg) < 0) or leg[0] != 1 or np.any(leg != np.round(leg)):
        raise PlanFileError(f"{path}: track.leg does not count the legs from 1.")
    return found
