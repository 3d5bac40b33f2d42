"""Changes of the vessel file that a record of passages suggests, with the evidence.

For fuel: a factor on the speed-fuel points, by speed. For roll: factors for legs with fins
centred and with fins active, and the values they may be due to. No file is changed: the error
of a leg includes that of waves and wind as well as that of the curve, so the master decides.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from passage.errors import LogError
from passage.inputs.records.record_file import Record, Row, number
from passage.inputs.vessel import Vessel
from passage.planning.record.shares import numbers_of, passages_of, share_of
from passage.planning.record.summary import summarise

Array = npt.NDArray[np.float64]

#: Least number of passages for a proposal.
FEWEST_PASSAGES = 4
#: Least ratio of the highest to the lowest speed for a factor that varies with speed.
_TILT_SPEEDS = 1.15
#: Least range of significant height for a trend with height [m].
_SEA_RANGE_M = 1.0
#: Ratio up to which a speed-fuel point outside the logged speeds still gets a factor.
_NEAR_SPEED = 1.05
#: Least share of its time with which a leg counts as one with fins active, or centred.
_MOSTLY = 0.9
#: Confidence level of each band.
CERTAINTY = 0.95


@dataclass(frozen=True)
class Factor:
    """A factor with its band, from ``legs`` legs on ``passages`` passages."""

    middle: float
    low: float
    high: float
    legs: int
    passages: int

    @property
    def differs(self) -> bool:
        """Whether 1 is outside the band."""
        return not self.low <= 1.0 <= self.high


@dataclass(frozen=True)
class FuelPoint:
    """One speed-fuel point: old and proposed value, or the reason for no proposal."""

    speed_kn: float
    old_l_per_h: float
    factor: Factor | None
    why: str = ""

    @property
    def new_l_per_h(self) -> float:
        """Proposed value: the old one unless it is outside the band."""
        if self.factor is None or not self.factor.differs:
            return self.old_l_per_h
        return self.old_l_per_h * self.factor.middle


@dataclass(frozen=True)
class Proposal:
    """Proposals from a record; ``roll`` by fin use ("centred", "active")."""

    file: str
    vessel: str
    fuel: tuple[FuelPoint, ...]
    fuel_by_height: Factor | None
    roll: dict[str, Factor | None]
    words: tuple[str, ...]


def propose(record: Record, vessel: Vessel) -> Proposal:
    """Propose changes of the vessel file from her passages.

    Raises
    ------
    LogError
        The record has too few passages computed with the present values of her vessel file.
    """
    fuel = _Legs.of(record, vessel, "fuel", "l")
    roll = _Legs.of(record, vessel, "roll", "deg")
    if max(fuel.count, roll.count) < FEWEST_PASSAGES:
        raise LogError(
            f"{record.file}: {fuel.count} passages of {vessel.name} have a model's share of fuel "
            f"and {roll.count} of roll, computed with the numbers in {vessel.path}; "
            f"{FEWEST_PASSAGES} are needed. Review more with --sea and --record, or older ones "
            "again with --vessel."
        )
    words: list[str] = []
    by_use = _roll(roll, words)
    slope = _by_height(fuel)
    if slope is not None and slope.differs:
        more = "more" if slope.middle > 1.0 else "less"
        words.append(
            f"fuel: each metre of sea takes {100.0 * abs(slope.middle - 1.0):.0f} % {more} than "
            f"computed ({100 * (slope.low - 1):+.0f} to {100 * (slope.high - 1):+.0f} %): the "
            "fuel for waves and wind is wrong rather than the curve. Log a passage in calm water "
            "before changing it"
        )
    trend = summarise(record, vessel.name).trend
    if trend is not None and trend.per_month > trend.error:
        words.append(
            f"fuel: it grows by {100.0 * trend.per_month:.1f} % a month, so part of these factors "
            "is fouling that goes with the next cleaning"
        )
    return Proposal(record.file, vessel.name, _fuel(fuel, vessel), slope, by_use, tuple(words))


@dataclass(frozen=True, eq=False)
class _Legs:
    """Legs with a model's share, and the quantities it may depend on; arrays (n,)."""

    share: Array
    hours: Array
    speed_kn: Array
    height_m: Array
    active: Array
    passage: npt.NDArray[np.int64]

    @property
    def count(self) -> int:
        return int(np.unique(self.passage).size)

    @classmethod
    def of(cls, record: Record, vessel: Vessel, key: str, unit: str) -> _Legs:
        numbers = numbers_of(vessel, key)
        rows: list[tuple[Row, int]] = [
            (row, at)
            for at, one in enumerate(passages_of(record, vessel.name))
            if one.whole[f"{key}_numbers"] == numbers
            for row in one.legs
        ]

        def column(name: str) -> Array:
            return np.array([number(row, name) for row, _ in rows])

        share, hours = np.array([share_of(row, key, unit) for row, _ in rows]), column("hours")
        use = np.isfinite(share) & (hours > 0.0)
        return cls(
            share=share[use],
            hours=hours[use],
            speed_kn=column("speed_kn")[use],
            height_m=column("significant_height_m")[use],
            active=column("fins_active_share")[use],
            passage=np.array([at for _, at in rows], dtype=np.int64)[use],
        )

    def where(self, which: npt.NDArray[np.bool_]) -> _Legs:
        return _Legs(**{name: value[which] for name, value in vars(self).items()})


def _fuel(legs: _Legs, vessel: Vessel) -> tuple[FuelPoint, ...]:
    """Speed-fuel points, each with the factor from legs near its speed."""
    points = zip(vessel.propulsion.speed_kn, vessel.propulsion.fuel_l_per_h, strict=True)
    known = legs.where(legs.speed_kn > 0.0)
    if known.count < FEWEST_PASSAGES:
        why = f"{known.count} passages with speed and fuel; {FEWEST_PASSAGES} are needed"
        return tuple(FuelPoint(v, fuel, None, why) for v, fuel in points)
    low, high = float(known.speed_kn.min()), float(known.speed_kn.max())
    x = np.log(known.speed_kn)
    middle = float(np.average(x, weights=known.hours))
    columns = [np.ones(x.size)]
    if high / low >= _TILT_SPEEDS:
        columns.append(x - middle)
    design = np.column_stack(columns)
    made = []
    for speed, fuel in points:
        if not low / _NEAR_SPEED <= speed <= high * _NEAR_SPEED:
            made.append(
                FuelPoint(speed, fuel, None, f"logged speeds are {low:.1f} to {high:.1f} kn")
            )
            continue
        at = np.array([1.0, np.log(speed) - middle][: design.shape[1]])
        made.append(FuelPoint(speed, fuel, _factor(known, design, at)))
    return tuple(made)


def _by_height(legs: _Legs) -> Factor | None:
    """Growth of the share per metre of significant height; None if heights differ too little."""
    known = legs.where(np.isfinite(legs.height_m))
    if known.count < FEWEST_PASSAGES or float(np.ptp(known.height_m)) < _SEA_RANGE_M:
        return None
    middle = np.average(known.height_m, weights=known.hours)
    design = np.column_stack([np.ones(known.share.size), known.height_m - middle])
    return _factor(known, design, np.array([0.0, 1.0]))


def _roll(legs: _Legs, words: list[str]) -> dict[str, Factor | None]:
    """Factors on roll by fin use, and the vessel values they may be due to."""
    found: dict[str, Factor | None] = {}
    for name, which in (
        ("centred", legs.active <= 1.0 - _MOSTLY),
        ("active", legs.active >= _MOSTLY),
    ):
        mine = legs.where(which)
        ones = np.ones((mine.share.size, 1))
        enough = mine.count >= FEWEST_PASSAGES
        found[name] = _factor(mine, ones, np.ones(1)) if enough else None
    centred, active = found["centred"], found["active"]
    if centred is not None and centred.differs:
        words.append(
            "roll, fins centred: the wave slope coefficient in proportion, or the damping the "
            "other way; these legs cannot separate them. A roll decay does (passage decay)"
        )
    if active is not None and active.differs and centred is None:
        words.append(
            "roll, fins active: fins or hull, which legs with the fins active cannot separate. "
            f"Log legs with the fins centred, on {FEWEST_PASSAGES} passages"
        )
    if active is not None and centred is not None:
        excess = np.log(active.middle / centred.middle)
        half = np.hypot(
            np.log(active.high / active.low) / 2.0, np.log(centred.high / centred.low) / 2.0
        )
        if abs(excess) > half:
            less = "less" if excess > 0.0 else "more"
            words.append(
                f"roll, fins: they take away {less} than computed (legs active against centred "
                f"{100.0 * np.expm1(excess):+.0f} %): their efficiency, which passage calibrate "
                "with a log of both fits as a number"
            )
    return found


def _factor(legs: _Legs, design: Array, at: Array) -> Factor:
    """Weighted mean, or value of a weighted line, with an error from the scatter of passages.

    Legs of one passage share weather and instruments, so passages count as independent and legs
    do not: least squares weighted by hours, covariance clustered by passage, Student's t with
    the number of passages.
    """
    from scipy.special import stdtrit

    weighted = design * legs.hours[:, None]
    inverse = np.linalg.pinv(design.T @ weighted, hermitian=True)
    fit = inverse @ (weighted.T @ legs.share)
    left = weighted * (legs.share - design @ fit)[:, None]
    groups = np.unique(legs.passage)
    sums = np.array([np.sum(left[legs.passage == one], axis=0) for one in groups])
    count = groups.size
    freedom = max(count - design.shape[1], 1)
    covariance = inverse @ (sums.T @ sums) @ inverse * count / freedom
    middle = float(at @ fit)
    error = float(np.sqrt(max(at @ covariance @ at, 0.0)))
    half = float(stdtrit(freedom, 0.5 * (1.0 + CERTAINTY))) * error
    low, mid, high = (float(np.exp(v)) for v in (middle - half, middle, middle + half))
    return Factor(mid, low, high, int(legs.share.size), int(count))
