"""How far forecasts were off at each age, for the odds.

Fitted to the differences that the record keeps: the sea and wind as they were, less the
forecast, at the places and times of the plan. Since one passage meets only one weather,
the default numbers keep a weight of `PRIOR` passages at each age.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
import numpy.typing as npt

from passage.inputs.records.record_file import Entry, number
from passage.planning.odds.error_model import ErrorModel
from passage.units import wrap_180

Array = npt.NDArray[np.float64]

#: The defaults weigh as much as this many passages.
PRIOR = 8.0
#: Periods a factor of 1.5 apart (its logarithm) belong to different waves and are left out.
OTHER_WAVES = 0.4
#: Field of the error model, column of the record with its root mean square, and a factor:
#: the model's wind error is that of one component of two.
FITTED: tuple[tuple[str, str, float], ...] = (
    ("height_share", "height_error_rms", 1.0),
    ("period_s", "period_error_rms_s", 1.0),
    ("direction_deg", "direction_error_rms_deg", 1.0),
    ("wind_m_s", "wind_error_rms_m_s", 2.0**-0.5),
)


@dataclass(frozen=True)
class FittedErrors:
    """The error model with fitted numbers, and how many passages each age has."""

    model: ErrorModel
    passages: tuple[int, ...]
    height_bias: float | None


def age_rows(
    age_h: Array, hours: Array, forecast: dict[str, Array], sea: dict[str, Array]
) -> list[dict[str, float | str | None]]:
    """Rows of a record: how far the forecast was off along the way, by its age.

    Parameters
    ----------
    age_h, hours : ndarray (n,)
        Hours since the run of each point, and how long it lasts.
    forecast, sea : dict
        ``significant_height_m``, ``peak_period_s``, ``wave_from_deg``, ``wind_speed_kn``
        and ``wind_from_deg`` at the points, as forecast and as they were.
    """
    from passage.units import knots_to_m_s

    with np.errstate(divide="ignore", invalid="ignore"):
        height = np.log(sea["significant_height_m"] / forecast["significant_height_m"])
        period = sea["peak_period_s"] - forecast["peak_period_s"]
        stretch = np.log(sea["peak_period_s"] / forecast["peak_period_s"])
        same = np.abs(stretch) <= OTHER_WAVES
    turn = np.asarray(wrap_180(sea["wave_from_deg"] - forecast["wave_from_deg"]))
    east, north = (
        knots_to_m_s(sea["wind_speed_kn"] * part(np.deg2rad(sea["wind_from_deg"])))
        - knots_to_m_s(forecast["wind_speed_kn"] * part(np.deg2rad(forecast["wind_from_deg"])))
        for part in (np.sin, np.cos)
    )
    height = np.where(np.isfinite(height), height, np.nan)
    period, turn = (np.where(same, one, np.nan) for one in (period, turn))
    ages = np.array(ErrorModel().lead_h)
    # A point before the run counts at age 0.
    nearest = np.searchsorted(0.5 * (ages[1:] + ages[:-1]), np.maximum(age_h, 0.0))
    rows: list[dict[str, float | str | None]] = []
    for at, age in enumerate(ages):
        mine = nearest == at
        if not np.any(mine):
            continue

        def mean(values: Array, power: int = 1, mine: npt.NDArray[np.bool_] = mine) -> float:
            known = mine & np.isfinite(values)
            weight = float(np.sum(hours[known]))
            if not weight > 0.0:
                return np.nan
            return float(np.sum(values[known] ** power * hours[known]) / weight) ** (1.0 / power)

        rows.append(
            {
                "part": f"age {age:g} h",
                "age_h": float(age),
                "hours": float(np.sum(hours[mine])),
                "height_error": mean(height),
                "height_error_rms": mean(height, 2),
                "period_error_s": mean(period),
                "period_error_rms_s": mean(period, 2),
                "direction_error_deg": mean(turn),
                "direction_error_rms_deg": mean(turn, 2),
                "wind_error_rms_m_s": mean(np.hypot(east, north), 2),
            }
        )
    return rows


def fit_errors(passages: tuple[Entry, ...]) -> FittedErrors | None:
    """Standard deviations by age from the passages of a record; None where none has any."""
    model = ErrorModel()
    ages = np.array(model.lead_h)
    rows = [row for one in passages for row in one.ages]
    own = np.repeat(np.arange(len(passages)), [len(one.ages) for one in passages])
    if not rows:
        return None
    at = np.array([int(np.argmin(np.abs(ages - number(row, "age_h")))) for row in rows])
    fitted: dict[str, tuple[float, ...]] = {}
    counts = np.bincount(at, minlength=ages.size)
    for field, column, share in FITTED:
        found = share * np.array([number(row, column) for row in rows])
        usual = np.array(getattr(model, field))
        known = np.isfinite(found)
        # Squares relative to the usual ones: first a factor for all ages, then each age. All
        # ages of one passage met the same weather, so they count once in the factor.
        ratio = np.where(known, found / usual[at], 0.0) ** 2
        many = np.bincount(own, known, minlength=len(passages))
        mean = np.bincount(own, ratio, minlength=len(passages))[many > 0] / many[many > 0]
        factor = (PRIOR + np.sum(mean)) / (PRIOR + mean.size)
        count = np.bincount(at, known, minlength=ages.size)
        sums = np.bincount(at, ratio, minlength=ages.size)
        made = usual * np.sqrt((PRIOR * factor + sums) / (PRIOR + count))
        # An older forecast is never better than a newer one.
        fitted[field] = tuple(float(x) for x in np.maximum.accumulate(made))
    bias = np.array([number(row, "height_error") for row in rows])
    hours = np.array([number(row, "hours") for row in rows])
    known = np.isfinite(bias)
    total = float(np.sum(hours[known]))
    off = float(np.sum(bias[known] * hours[known])) / total if total > 0.0 else None
    return FittedErrors(replace(model, **fitted), tuple(int(n) for n in counts), off)  # type: ignore[arg-type]
