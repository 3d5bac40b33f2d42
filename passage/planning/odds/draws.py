"""One passage sailed through all draws at once, each with its own sea and model error."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any

import numpy as np
import numpy.typing as npt

from passage.planning.odds.drawn import DOUBTS, DrawnForecast
from passage.planning.voyage.evaluate import Evaluation, evaluate, over_engine
from passage.planning.voyage.forces import BAND_SIGMAS
from passage.planning.voyage.legs import leg_starts, legs_from_points
from passage.planning.voyage.limits import leg_limits
from passage.planning.voyage.march import March
from passage.planning.voyage.rolling import GM_BAND, Choices, Doubt, doubt_rows
from passage.units import HOUR_S, utc_text

if TYPE_CHECKING:
    from passage.inputs.forecast import Forecast
    from passage.planning.voyage.policy import OwnDrag
    from passage.planning.voyage.prepare import Passage

Array = npt.NDArray[np.float64]

#: Bands of the model, their ends taken as 5 and 95 %: effective wave slope, linear damping
#: of the hull, wind coefficients (assumptions; GM and waves have the band of a plan).
SLOPE_BAND, DAMPING_BAND, WIND_BAND = 0.10, 0.30, 0.20


@dataclass(frozen=True)
class Sailing:
    """How the plan was sailed, so that the draws are sailed the same way.

    ``go(forecast, member, limit)`` marches; with ``limit`` no faster than the engines allow.
    ``slowed_by(own, first_s)`` marches on the forecast itself at the held fuel rate, with
    another drag of her own; None where fuel is not held.
    """

    go: Callable[[Any, Any, bool], March]
    choices: Choices
    limited: bool
    slowed_by: Callable[[OwnDrag, Array | None], March] | None = None


def doubts(normals: Array) -> Doubt:
    """Model factors from standard normal numbers ``(draws, DOUBTS)``, each ``(draws, 1)``."""

    def factor(column: int, band: float) -> Array:
        return np.asarray(np.exp(np.log1p(band) / BAND_SIGMAS * normals[:, column]))[:, None]

    assert normals.shape[1] == DOUBTS
    return Doubt(
        gm=factor(0, GM_BAND),
        # The band is of the slope's amplitude; the factor multiplies its variance.
        slope=factor(1, SLOPE_BAND) ** 2,
        damping=factor(2, DAMPING_BAND),
        wind=factor(3, WIND_BAND),
        waves=normals[:, 4:5],
    )


@dataclass(frozen=True)
class Drawn:
    """Leg values of every draw: arrays ``(draws, legs)`` under the names of ``variables.py``.

    ``doubts`` are the standard normal numbers of the model, ``(draws, DOUBTS)``;
    ``points`` the values along the way that fans are drawn from, ``(draws, n)``.
    """

    legs: dict[str, Array]
    doubts: Array
    points: dict[str, Array]


def sail_draws(passage: Passage, drawn: DrawnForecast, sailing: Sailing) -> Drawn:
    """Sail and evaluate every draw; repeat, slower, those that overload the engines.

    Fuel burnt on the way changes list and displacement as it does in the plan.
    """
    members = np.arange(drawn.n_members)
    doubt = doubts(drawn.doubts)
    choices = replace(sailing.choices, band=False, both=False)
    legs, points, over = _legs(passage, sailing.go(drawn, members, False), choices, doubt)
    if not sailing.limited and np.any(over):
        some = doubt_rows(doubt, over)
        way = sailing.go(drawn, members[over], True)
        again, slower, _ = _legs(passage, way, choices, some)
        for made, part in ((legs, again), (points, slower)):
            for name in made:
                made[name][over] = part[name]
    return Drawn(legs, drawn.doubts, points)


def _legs(
    passage: Passage, way: March, choices: Choices, doubt: Doubt
) -> tuple[dict[str, Array], dict[str, Array], Any]:
    """Leg values, values for the fans, and which draws overload the engines."""
    here = evaluate(passage.yacht, way, replace(choices, doubt=doubt))
    over = np.any(over_engine(passage.yacht, passage.track, here), axis=-1)
    return leg_values(passage, way, here, choices.fins), fan_points(here, choices.fins), over


def fan_points(here: Evaluation, fins: str) -> dict[str, Array]:
    """The values along the way that fans are drawn from, ``L + (n,)``."""
    felt = "active" if fins == "active" else "centred"
    return {
        "significant_height_m": np.array(here.values["significant_height_m"]),
        "roll_significant_deg": np.array(here.values[f"roll_{felt}_significant_deg"]),
    }


def leg_values(
    passage: Passage, way: March, here: Evaluation, fins: str = "active"
) -> dict[str, Array]:
    """Leg values, named as in a plan, of shape ``L + (legs,)``."""
    track = passage.track
    leg = track.leg
    starts = leg_starts(leg)
    made = legs_from_points(here.values, way.hours, leg)
    # The dose looks back six hours, so its peak may lie before the end of the leg.
    sick = np.asarray(here.values["motion_sickness_percent"])
    made["motion_sickness_percent"] = np.maximum.reduceat(sick, starts, axis=-1)
    made["hours"] = np.add.reduceat(way.hours, starts, axis=-1)
    at_rest = track.length_m == 0.0
    for one in leg_limits(passage.vessel, leg, at_rest, way.hours, here.values, fins):
        made[one.key] = one.value
    return made


def run_hour(forecast: Forecast, departure_s: float) -> tuple[float, bool]:
    """Time of the newest run among the files with waves [s], and whether a file gives it.

    Where none does, the first time in the files is taken, but no later than the departure.
    """
    files = [
        one
        for one in getattr(forecast, "files", ())
        if any(piece.meaning.quantity in ("height", "spectrum") for piece in one.pieces)
    ]
    runs = [one.run_s for one in files if one.run_s is not None]
    if runs:
        return float(max(runs)), True
    first = [float(times.time_s[0]) for one in files for times in one.times]
    return min([*first, getattr(forecast, "time_from_s", departure_s), departure_s]), False


def draws_words(
    draws: int, run_s: float, given: bool, departure_s: float, *, own: bool = False
) -> str:
    """``error model, 64 draws, run of 2026-05-20T00:00Z, 12 h old at departure``."""
    hours = (departure_s - run_s) / HOUR_S
    run = f"run of {utc_text(run_s)}" if given else (
        f"the files name no run, age counted from {utc_text(run_s)}"
    )  # fmt: skip
    model = "error model with your numbers" if own else "error model"
    return f"{model}, {draws} draws, {run}, {hours:.0f} h old at departure"
