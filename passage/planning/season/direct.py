"""Points of many departures by the functions of a single plan.

Slow. It is the reference for the fast computation (``points.py``), and is used where that
does not apply, as for full directional spectra.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace

import numpy as np
import numpy.typing as npt

from passage.inputs.forecast import Forecast
from passage.inputs.route import Track
from passage.inputs.vessel import Vessel
from passage.planning.plan.plan import Passage
from passage.planning.season.departures import POINT_NAMES, hunting, passage_status
from passage.planning.voyage.evaluate import Evaluation, evaluate
from passage.planning.voyage.flows import flows_given, gap_shares
from passage.planning.voyage.legs import leg_starts
from passage.planning.voyage.list_drift import list_along
from passage.planning.voyage.march import March, march
from passage.planning.voyage.rolling import Choices
from passage.units import deg_to_rad, knots_to_m_s

Array = npt.NDArray[np.float64]
Codes = npt.NDArray[np.int8]

#: A list that changes by less than this along a passage is taken as constant, as a
#: plan does. [rad]
LIST_TOLERANCE_RAD = float(deg_to_rad(0.01))


@dataclass(frozen=True)
class PointValues:
    """Point values ``(departures, n)``, fin use, and a status for each departure.

    ``flow_gaps`` are shares of the legs without wind and current, ``(departures, legs)``.
    """

    values: dict[str, Array]
    fin_codes: Codes
    status: Codes
    flow_gaps: dict[str, Array]


def direct_points(
    passage: Passage,
    forecast: Forecast,
    departures_s: Array,
    heel: str = "fins",
    wave_method: str = "all-heading",
) -> PointValues:
    """March and evaluate every departure of a passage.

    Parameters
    ----------
    passage : Passage
        Vessel, route, track and tables, ready.
    forecast : Forecast
        Open on the hindcast.
    departures_s : ndarray, (departures,)
        Leaving times. [s]
    heel, wave_method
        As in ``rolling.Choices``.
    """
    vessel, yacht, track = passage.vessel, passage.yacht, passage.track
    movement = march(
        track,
        forecast,
        departures_s,
        knots_to_m_s(track.speed_kn),
        at_rest_heading=vessel.particulars.anchored_heading,
    )
    listed = np.full((departures_s.size, 1), float(deg_to_rad(vessel.loading.list_deg)))
    choices = Choices(heel=heel, list_rad=listed, wave_method=wave_method, band=False)
    evaluation = evaluate(yacht, movement, choices)
    drift = list_along(vessel, track, evaluation.values["fuel_l"])
    moved = np.any(np.abs(drift - listed) > LIST_TOLERANCE_RAD, axis=-1, keepdims=True)
    if np.any(moved):
        listed = np.where(moved, drift, listed)
        choices = replace(choices, list_rad=listed)
        evaluation = evaluate(yacht, movement, choices, same_sea=evaluation)
    values = _values(evaluation, listed)
    return PointValues(
        values,
        evaluation.fin_use.astype(np.int8),
        hunting(_status(movement, forecast, track), values),
        flow_gaps(vessel, track, _flow_codes(movement, forecast), movement.hours),
    )


def list_share(static_rad: Array, list_rad: Array) -> Array:
    """Share of the offset's drag that is due to the list; the rest is due to wind.

    Induced drag increases with the square of the offset, so the list adds
    ``(static^2 - wind^2)/static^2`` of it: negative where the wind alone would heel her more
    than list and wind together. 0 where nothing is held.
    """
    wind = static_rad - list_rad
    square = static_rad**2
    return np.divide(
        square - wind**2, square, out=np.zeros_like(square), where=square > 1e-12
    ) + np.where(np.isnan(square), np.nan, 0.0)


def _values(evaluation: Evaluation, list_rad: Array) -> dict[str, Array]:
    values = {name: evaluation.values[name] for name in POINT_NAMES if name != "fuel_for_list_l"}
    for name in ("interruptions_high_per_minute",):
        if name in evaluation.values:
            values[name] = evaluation.values[name]
    share = list_share(evaluation.static_heel_rad, list_rad)
    values["fuel_for_list_l"] = values["fuel_fins_offset_l"] * share
    return values


def _status(movement: March, forecast: Forecast, track: Track) -> Codes:
    flows = _flow_codes(movement, forecast)
    codes = movement.conditions.coverage
    return passage_status(codes, flows, movement.no_way, track.length_m > 0.0)


def _flow_codes(movement: March, forecast: Forecast) -> dict[str, Codes]:
    sky = movement.conditions
    return {flow: getattr(sky, f"{flow}_coverage") for flow in flows_given(forecast)}


def flow_gaps(
    vessel: Vessel, track: Track, codes: Mapping[str, Codes], hours: Array
) -> dict[str, Array]:
    """Shares of the legs without wind and current, by the rules of a comparison.

    ``codes`` has the coverage of the flows that files give, ``(departures, n)``, as ``hours``.
    """
    legs = (hours.shape[0], leg_starts(track.leg).size)
    shares = {"wind": np.full(legs, float(vessel.windage is not None)), "current": np.zeros(legs)}
    for flow, found in codes.items():
        if flow == "current" or vessel.windage is not None:
            shares[flow] = gap_shares(found, track, hours)
    return shares
