"""Under way: the motion of the hours before the start, which counts for motion sickness."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np

from passage.inputs.route import Track, make_track
from passage.physics.motions.comfort import MSDV_HOURS
from passage.planning.plan.marks import map_area
from passage.planning.plan.result import Caution
from passage.planning.voyage.comfort import Before, weighted_at_places
from passage.planning.voyage.evaluate import evaluate
from passage.planning.voyage.march import march
from passage.planning.voyage.prepare import corridor, segment_seconds, steady_seconds
from passage.units import HOUR_S, knots_to_m_s

if TYPE_CHECKING:
    from passage.inputs.forecast import Area, Forecast
    from passage.planning.voyage.prepare import Passage, PlanOptions
    from passage.planning.voyage.rolling import Choices

#: Hours before the start that are read and sailed: those of the dose, and an adverse current.
PAST_H = MSDV_HOURS[1] + 3.0
#: Code of the caution that motion before the start is not counted.
LEFT_OUT = "sickness_before_unknown"
#: Known hours short by less than this are whole. [h]
_NEAR_H = 0.05


def past_track(passage: Passage, options: PlanOptions) -> Track | None:
    """The last hours of the route behind her; None where she leaves port."""
    behind = passage.route.behind
    if behind is None or not passage.vessel.places:
        return None
    if options.speed_kn is not None:
        behind = replace(behind, legs=tuple(replace(leg, speed_kn=None) for leg in behind.legs))
    track = make_track(behind, passage.speed_kn, options.minutes)
    until_end = np.cumsum(segment_seconds(track)[::-1])[::-1] / HOUR_S
    first = int(np.argmax(until_end <= PAST_H)) if until_end[-1] <= PAST_H else len(track) - 1
    kept = {
        name: getattr(track, name)[first:]
        for name in ("leg", "lat_deg", "lon_deg", "course_rad", "length_m", "stay_s", "speed_kn",
                     "end_lat_deg", "end_lon_deg")
    }  # fmt: skip
    return replace(track, **kept)


def area_read(tracks: Sequence[Track], for_map: bool) -> Area:
    """Area of the forecast to read for tracks, wider for a map."""
    if not for_map:
        return corridor(tracks)
    return map_area(
        np.concatenate([track.end_lat_deg for track in tracks]),
        np.concatenate([track.end_lon_deg for track in tracks]),
    )


def sickness_before(
    passage: Passage, forecast: Forecast, options: PlanOptions, choices: Choices
) -> tuple[Caution, ...]:
    """Give the yacht the motion of the hours before the start, and say what it is based on.

    The route behind her is sailed again so as to end at the start, at the speeds of a plan of
    it. What the forecast does not cover of the last six hours is not counted, with a caution.
    """
    passage.yacht.before = None
    track = past_track(passage, options)
    if track is None:
        return ()
    least = MSDV_HOURS[1]
    begins = options.departure_s - steady_seconds(track)
    for _ in range(3):
        way = march(
            track, forecast, begins, knots_to_m_s(track.speed_kn),
            at_rest_heading=passage.vessel.particulars.anchored_heading,
        )  # fmt: skip
        late_s = begins + float(np.nansum(way.hours)) * HOUR_S - options.departure_s
        if abs(late_s) < 1.0:
            break
        begins -= late_s
    made = evaluate(passage.yacht, way, choices)
    roll = made.active if choices.fins == "active" else made.centred
    rms = weighted_at_places(passage.yacht, roll, made.sea)
    # Unknown hours (no way against the current) hold nothing that is known either.
    hours = np.where(np.isfinite(way.hours), way.hours, segment_seconds(track) / HOUR_S)
    passage.yacht.before = Before(rms, hours)
    opens = np.sum(hours) - np.cumsum(hours)  # hours from the end of each segment to the start
    inside = np.clip(least - opens, 0.0, hours)
    known = np.all(np.isfinite(rms), axis=0)
    whole, missing = float(np.sum(inside)), float(np.sum(inside[~known]))
    speeds = [float(speed) for speed in track.speed_kn[(inside > 0.0) & (track.length_m > 0.0)]]
    low, high = (min(speeds), max(speeds)) if speeds else (0.0, 0.0)
    speed = f"{low:g} kn" if low == high else f"{low:g} to {high:g} kn"
    how = f"sailed by this route at {speed}, as in a plan of the whole"
    if missing <= _NEAR_H:
        text = (
            f"motion sickness counts the motion of the {whole:.1f} h before the start, {how}. If "
            "she came otherwise, it is another."
        )
        return (Caution("sickness_before", "note", (), text),)
    counted = f"; the other {whole - missing:.1f} h count, {how}" if whole - missing > 0.1 else ""
    text = (
        f"motion sickness leaves out {missing:.1f} h of motion in the {least:g} h before the "
        f"start, which the forecast does not cover{counted}. For the next {least:g} h it may be "
        "higher than given. Give the forecast of those hours too."
    )
    return (Caution(LEFT_OUT, "caution", (), text),)
