"""What a record shows: bias and spread by kind of leg, odds kept, and the fuel trend."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from datetime import date

import numpy as np
import numpy.typing as npt

from passage.inputs.records.record_file import Entry, Record, Row, number
from passage.planning.record.ages import FittedErrors, fit_errors
from passage.planning.record.shares import (
    KEPT,
    Band,
    band_of,
    miss_of,
    passages_of,
    share_of,
    shares_of,
)
from passage.units import HOUR_S, utc_text

Array = npt.NDArray[np.float64]

#: A day [s] and the mean length of a month [days].
DAY_S = 24.0 * HOUR_S
MONTH_DAYS = 365.25 / 12.0
#: A trend needs this many passages, spread over this many months.
FEWEST_FOR_TREND, LEAST_MONTHS = 4, 1.0
#: Fins count as active or centred from this share of the time.
_MOSTLY = 0.9
_SEAS = (1.0, 2.0, 3.0)
_HEADINGS = ((60.0, "following"), (120.0, "beam"), (181.0, "head"))
_SPEED_STEP_KN = 2.0


@dataclass(frozen=True)
class Spread:
    """Mean and standard deviation of a miss, as shares of the planned or computed value."""

    count: int
    mean: float | None
    deviation: float | None


@dataclass(frozen=True)
class Group:
    """Legs of one kind: miss against the plan, and the model's share, in fuel and roll."""

    kind: str
    name: str
    miss: dict[str, Spread]
    model: dict[str, Spread]


@dataclass(frozen=True)
class Kept:
    """Share of ``count`` passages that the plans stated, and the share that came true [%]."""

    name: str
    count: int
    stated_percent: float
    kept_percent: float


@dataclass(frozen=True)
class Trend:
    """Growth per month of the model's share in fuel, with two standard errors.

    ``since_cleaned``: months count from the cleaning of the hull, else they are calendar.
    """

    count: int
    per_month: float
    error: float
    since_cleaned: bool


@dataclass(frozen=True)
class RecordSummary:
    """What the record of one vessel shows.

    ``otherwise`` counts the passages computed with other numbers of the vessel.
    """

    file: str
    vessel: str
    passages: tuple[Entry, ...]
    whole: dict[str, Spread]
    bands: dict[str, Band | None]
    otherwise: dict[str, int]
    groups: tuple[Group, ...]
    kept: tuple[Kept, ...]
    trend: Trend | None
    no_trend: str
    errors: FittedErrors | None


def vessels_of(record: Record) -> tuple[str, ...]:
    """Vessels of a record, the one sailed last first."""
    return tuple(dict.fromkeys(one.vessel for one in reversed(record.passages)))


def summarise(
    record: Record, vessel: str | None = None, numbers: dict[str, str] | None = None
) -> RecordSummary:
    """Sum up the passages of one vessel, by default the one sailed last.

    ``numbers`` are digests of the vessel's present numbers (``shares.numbers_of``); by
    default those of her last passage.
    """
    name = vessels_of(record)[0] if vessel is None else vessel
    passages = passages_of(record, name)
    legs = [row for one in passages for row in one.legs]
    found = {
        key: shares_of(record, name, key, unit, None if numbers is None else numbers[key])
        for key, unit in KEPT
    }
    trend, no_trend = _trend(passages)
    return RecordSummary(
        file=record.file,
        vessel=name,
        passages=passages,
        whole={
            key: _spread([miss_of(one.whole, key, unit) for one in passages]) for key, unit in KEPT
        },
        bands={key: band_of(found[key].share) for key, _ in KEPT},
        otherwise={key: found[key].otherwise for key, _ in KEPT},
        groups=tuple(_groups(legs)),
        kept=tuple(_kept([one.whole for one in passages])),
        trend=trend,
        no_trend=no_trend,
        errors=fit_errors(passages),
    )


def _spread(logs: list[float]) -> Spread:
    """Mean and deviation of logarithms, as shares."""
    known = np.array([one for one in logs if np.isfinite(one)])
    if not known.size:
        return Spread(0, None, None)
    deviation = float(np.expm1(np.std(known, ddof=1))) if known.size > 1 else None
    return Spread(known.size, float(np.expm1(np.mean(known))), deviation)


def _groups(legs: list[Row]) -> list[Group]:
    """Legs by sea, heading, speed and fin use; kinds without a leg are left out."""
    found = []
    for kind, name_of in (
        ("sea", _sea),
        ("heading", _heading),
        ("speed", _speed),
        ("fins", _fins),
    ):
        named: dict[str, list[Row]] = {}
        for row in sorted(legs, key=_order(kind)):
            if name := name_of(row):
                named.setdefault(name, []).append(row)
        for name, rows in named.items():
            miss, model = (
                {key: _spread([take(row, key, unit) for row in rows]) for key, unit in KEPT}
                for take in (miss_of, share_of)
            )
            if any(one.count for one in (*miss.values(), *model.values())):
                found.append(Group(kind, name, miss, model))
    return found


def _order(kind: str) -> Callable[[Row], float]:
    column = {
        "sea": "significant_height_m",
        "heading": "encounter_angle_deg",
        "speed": "speed_kn",
        "fins": "fins_active_share",
    }[kind]
    return lambda row: float(np.nan_to_num(number(row, column), nan=-1.0))


def _sea(row: Row) -> str:
    height = number(row, "significant_height_m")
    if not np.isfinite(height):
        return ""
    edges = (0.0, *_SEAS)
    at = int(np.searchsorted(_SEAS, height, side="right"))
    return f"over {_SEAS[-1]:g} m" if at == len(_SEAS) else f"{edges[at]:g} to {_SEAS[at]:g} m"


def _heading(row: Row) -> str:
    angle = number(row, "encounter_angle_deg")
    return next((name for most, name in _HEADINGS if angle < most), "")


def _speed(row: Row) -> str:
    speed = number(row, "speed_kn")
    if not speed >= 1.0:
        return ""
    low = _SPEED_STEP_KN * np.floor(speed / _SPEED_STEP_KN)
    return f"{low:g} to {low + _SPEED_STEP_KN:g} kn"


def _fins(row: Row) -> str:
    share = number(row, "fins_active_share")
    if not np.isfinite(share):
        return ""
    return "active" if share >= _MOSTLY else "centred" if share <= 1.0 - _MOSTLY else "in part"


def _kept(rows: list[Row]) -> list[Kept]:
    """Shares that the plans stated beside those that came true."""
    found = []

    def inside(name: str, low: str, high: str, value: str, stated: float) -> None:
        numbers = np.array([[number(row, one) for one in (low, value, high)] for row in rows])
        numbers = numbers[np.all(np.isfinite(numbers), axis=1)]
        # A plan without spread states nothing: at a held speed the time has none.
        numbers = numbers[numbers[:, 2] - numbers[:, 0] > 1e-3 * np.abs(numbers[:, 2])]
        if len(numbers):
            good = (numbers[:, 0] <= numbers[:, 1]) & (numbers[:, 1] <= numbers[:, 2])
            found.append(Kept(name, len(numbers), stated, float(100.0 * np.mean(good))))

    inside("fuel within 10 to 90 %", "fuel_p10_l", "fuel_p90_l", "fuel_logged_l", 80.0)
    inside("time within 10 to 90 %", "hours_p10", "hours_p90", "hours", 80.0)
    both = np.array([[number(row, n) for n in ("roll_odds_percent", "roll_limit_kept")]
                     for row in rows]).reshape(-1, 2)  # fmt: skip
    both = both[np.all(np.isfinite(both), axis=1)]
    for low, high in ((0.0, 50.0), (50.0, 90.0), (90.0, 100.01)):
        mine = both[(both[:, 0] >= low) & (both[:, 0] < high)]
        if len(mine):
            name = f"roll limit, odds of {low:g} to {min(high, 100.0):g} %"
            kept = float(100.0 * np.mean(mine[:, 1]))
            found.append(Kept(name, len(mine), float(np.mean(mine[:, 0])), kept))
    return found


def months_clean(passages: tuple[Entry, ...]) -> Array:
    """Months from hull cleaning to each passage; a date holds until the next one given."""
    cleaned = np.nan
    out = np.full(len(passages), np.nan)
    for at, one in enumerate(passages):
        day = one.begin_s / DAY_S
        try:
            text = one.whole["hull_cleaned"]
            cleaned = float((date.fromisoformat(text) - date(1970, 1, 1)).days) if text else cleaned
        except ValueError:
            continue
        out[at] = (day - cleaned) / MONTH_DAYS
    return out


def _trend(passages: tuple[Entry, ...]) -> tuple[Trend | None, str]:
    """Trend of the model's share in fuel over the months, or why there is none."""
    share = np.array([share_of(one.whole, "fuel", "l") for one in passages])
    numbers = [one.whole["fuel_numbers"] for one in passages]
    months = months_clean(passages)
    cleaned = int(np.count_nonzero(np.isfinite(months))) >= FEWEST_FOR_TREND
    if not cleaned:
        months = np.array([one.begin_s for one in passages]) / DAY_S / MONTH_DAYS
    last = next((n for n, x in zip(reversed(numbers), share[::-1], strict=True) if x == x), "")
    use = np.isfinite(share) & np.isfinite(months) & np.array([n == last for n in numbers], bool)
    if np.count_nonzero(use) < FEWEST_FOR_TREND:
        return None, (
            f"no fuel trend yet: it needs {FEWEST_FOR_TREND} passages with a model's share, "
            f"computed with the same fuel curve; there are {np.count_nonzero(use)}"
        )
    x, y = months[use], share[use]
    if float(np.ptp(x)) < LEAST_MONTHS:
        return None, "no fuel trend yet: the passages lie within a month"
    x = x - np.mean(x)
    slope = float(np.sum(x * y) / np.sum(x**2))
    left = y - np.mean(y) - slope * x
    error = float(np.sqrt(np.sum(left**2) / (x.size - 2) / np.sum(x**2)))
    return Trend(int(x.size), slope, 2.0 * error, cleaned), ""


def when(entry: Entry) -> str:
    """The day that a passage began."""
    return utc_text(entry.begin_s)[:10]
