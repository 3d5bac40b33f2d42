"""Odds that limits are kept, percentiles, and how sure they are, from draws or members."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np
import numpy.typing as npt

from passage.planning.voyage.limits import slack

Array = npt.NDArray[np.float64]

PERCENTILES: tuple[int, ...] = (10, 50, 90)
#: Chance that the true odds lie within the interval given with a count.
SURE = 0.90


@dataclass(frozen=True)
class Odds:
    """Shares of the draws that keep their limits, in percent; None where not known.

    ``by_limit``: each limit on the whole passage; ``by_leg``: all limits on each leg;
    ``whole``: all limits on all legs; ``kept``: whether each draw keeps them all, shape
    (draws,), None where ``whole`` is.
    """

    draws: int
    by_limit: dict[str, float | None]
    by_leg: tuple[float | None, ...]
    whole: float | None
    kept: npt.NDArray[np.bool_] | None


def count_odds(values: Mapping[str, Array], limits: Mapping[str, Array]) -> Odds | None:
    """Count the draws that keep the limits; None where there are no limits.

    Parameters
    ----------
    values : mapping of ndarray, shape (draws, legs)
        By limit: what is limited, of either sign.
    limits : mapping of ndarray, shape (legs,)
        NaN on legs without that limit.

    Notes
    -----
    A value missing in all draws makes the odds of that leg, that limit and the whole
    unknown. Missing in some draws only, it counts as not kept there. Draws in which two
    legs both keep their limits are counted, the odds not multiplied: both legs meet the
    same error.
    """
    limited = {name: limit for name, limit in limits.items() if not np.all(np.isnan(limit))}
    if not limited:
        return None
    fine, unknown = {}, {}
    for name, limit in limited.items():
        value = np.abs(np.asarray(values[name], dtype=float))
        free = np.isnan(limit)
        fine[name] = free | (value <= limit + slack(name, limit))
        unknown[name] = ~free & np.all(np.isnan(value), axis=0)
    all_fine = np.logical_and.reduce(list(fine.values()))
    any_unknown = np.logical_or.reduce(list(unknown.values()))

    def percent(kept: npt.NDArray[np.bool_], missing: bool) -> float | None:
        return None if missing else float(100.0 * np.mean(kept))

    known = not bool(np.any(any_unknown))
    kept = np.all(all_fine, axis=1)
    return Odds(
        draws=len(kept),
        by_limit={
            name: percent(np.all(fine[name], axis=1), bool(np.any(unknown[name])))
            for name in limited
        },
        by_leg=tuple(
            percent(all_fine[:, leg], bool(any_unknown[leg])) for leg in range(all_fine.shape[1])
        ),
        whole=percent(kept, not known),
        kept=kept if known else None,
    )


#: Standard normal number that 95 % lie below.
_NORMAL_95 = 1.645
#: A difference of counts within this many standard errors of zero counts as chance.
SIGMAS = 2.0


def reaches(percent: npt.ArrayLike, asked_percent: float, draws: int) -> npt.NDArray[np.bool_]:
    """Whether counted odds reach those asked for, to half a draw; False for NaN.

    80 % of 64 draws is 51.2: a count of 51, which reads as 80 %, reaches it.
    """
    return np.asarray(np.asarray(percent, dtype=float) >= asked_percent - 50.0 / draws - 1e-9)


def differs(one: npt.NDArray[np.bool_], two: npt.NDArray[np.bool_]) -> bool:
    """Whether two ways, ``(draws,)`` of what keeps its limits, differ by more than chance.

    The draws are the same for both, so only those in which they differ count: if the ways
    were equal, each would be as likely to favour either (a sign test).
    """
    apart = int(np.sum(one != two))
    return bool(abs(int(one.sum()) - int(two.sum())) > SIGMAS * np.sqrt(apart))


def interval_percent(percent: float, draws: int) -> tuple[float, float]:
    """Interval that holds the true odds with 90 % chance, if the draws are independent. [%]

    The exact interval of a binomial share (Clopper and Pearson 1934): 20 of 20 members
    within the limit leave 86 to 100 %.
    """
    kept = round(percent * draws / 100.0)
    # The odds at which this count or more, and this count or fewer, have a chance of 5 %.
    low = 0.0 if kept == 0 else _odds_of_at_least(kept, draws, 0.5 * (1.0 - SURE))
    high = 1.0 if kept == draws else _odds_of_at_least(kept + 1, draws, 0.5 * (1.0 + SURE))
    return 100.0 * low, 100.0 * high


def _odds_of_at_least(count: int, draws: int, chance: float) -> float:
    """Odds at which ``count`` or more of ``draws`` are kept with this chance, by bisection."""
    ways = [math.log(math.comb(draws, k)) for k in range(count, draws + 1)]
    low, high = 0.0, 1.0
    while low < (p := 0.5 * (low + high)) < high:
        kept, lost = math.log(p), math.log1p(-p)
        terms = (math.exp(n + k * kept + (draws - k) * lost) for k, n in enumerate(ways, count))
        low, high = (p, high) if math.fsum(terms) < chance else (low, p)
    return p


def percentiles(values: npt.ArrayLike) -> tuple[float | None, ...]:
    """10, 50 and 90 % of draws, shape (draws,); None where any draw is missing."""
    numbers = np.asarray(values, dtype=float)
    if not numbers.size or np.isnan(numbers).any():
        return (None,) * len(PERCENTILES)
    return tuple(float(value) for value in percentile(numbers, PERCENTILES))


def percentile(values: Array, percent: Any, axis: int = 0) -> Array:
    """Percentiles of one more draw, estimated from few; NaN where any draw is missing.

    The k-th of n draws is taken as the quantile ``k / (n + 1)``, the chance that one more
    draw lies below it (Weibull 1939). With ``(k - 1) / (n - 1)`` an interval of few draws
    would be too narrow.
    """
    return np.asarray(np.percentile(values, percent, axis=axis, method="weibull"))


def fans(points: Mapping[str, Array]) -> dict[str, tuple[Array, Array]]:
    """10 and 90 % of draws at every point, from ``(draws, n)``; NaN where any is missing."""
    low, high = PERCENTILES[0], PERCENTILES[-1]
    return {
        name: (percentile(values, low), percentile(values, high)) for name, values in points.items()
    }


def model_share_percent(values: npt.ArrayLike, doubts: Array) -> tuple[float, float, float] | None:
    """Share of the variance of ``values`` (draws,) that comes from the model's doubt. [%]

    By least squares on the numbers drawn for that doubt, ``(draws, doubts)``, less what
    that many numbers explain by chance (adjusted R squared). The rest comes from the
    forecast. None where values are missing, do not differ, or are too few.

    Returns
    -------
    tuple of float
        The share, and the ends of the interval that holds it with a chance of about 90 %
        (tested), by the variance of R squared in large samples and without any share (both
        from memory). A lower end of 0 means that the share cannot be told from noise.
    """
    numbers = np.asarray(values, dtype=float)
    draws, terms = doubts.shape
    if np.isnan(numbers).any() or draws < 3 * terms:
        return None
    about = numbers - numbers.mean()
    total = float(about @ about)
    if total <= (1e-9 * np.abs(numbers).max()) ** 2 * draws:
        return None
    columns = np.column_stack([np.ones(draws), doubts])
    left = numbers - columns @ np.linalg.lstsq(columns, numbers, rcond=None)[0]
    free = draws - 1 - terms
    plain = 1.0 - float(left @ left) / total
    share = max(1.0 - (1.0 - plain) * (draws - 1) / free, 0.0)
    variance = (1.0 - share) ** 2 * (4.0 * share / free + 2.0 * terms / free**2)
    reach = _NORMAL_95 * variance**0.5
    low, share, high = (min(max(x, 0.0), 1.0) for x in (share - reach, share, share + reach))
    return 100.0 * share, 100.0 * low, 100.0 * high
