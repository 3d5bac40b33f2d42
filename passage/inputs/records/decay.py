"""Fit damping and natural period to a roll-decay record."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import least_squares

from passage.errors import LogError, Problem
from passage.inputs.records.decay_record import DecayRecord, read_decay_record
from passage.physics.roll.damping import decay_amplitude
from passage.units import DEG_RAD

__all__ = ["DecayFit", "DecayRecord", "fit_decay", "read_decay_record"]

Floats = NDArray[np.float64]

#: Start, least, most and scale of zeta, b, list [rad] and its drift [rad/min].
_UNKNOWNS = (
    (0.03, 0.0, 0.9, 0.03),
    (0.2, 0.0, 50.0, 0.3),
    (0.0, -0.5, 0.5, 0.02),
    (0.0, -0.5, 0.5, 0.02),
)
#: Share of records in which chance alone explains as much as one more unknown may.
_CHANCE = 0.01
#: No peak is read more closely than this [deg].
_LEAST_SCATTER_DEG = 0.02
#: Fewest peaks that show a pattern in the residuals, or a list of one side.
_FEWEST_FOR_PATTERN, _FEWEST_FOR_LIST = 8, 7
#: Correlation of neighbours this many standard deviations from that of noise is a pattern.
_PATTERN = 2.6


@dataclass(frozen=True)
class DecayFit:
    """The fitted values of a record, each with its standard uncertainty.

    ``quadratic_damping`` is b of phi'' + 2 zeta w0 phi' + b |phi'| phi' + w0^2 phi = 0
    (per radian); a half cycle loses pi zeta phi + (4/3) b phi^2. An uncertainty of NaN
    means the value was not fitted but set to zero, and a note says so. ``*_sd`` are one
    standard deviation. ``drift_deg_per_min`` is how fast the mean heel moves, 0 where it
    cannot be separated from no drift.
    """

    damping_ratio: float
    damping_ratio_sd: float
    quadratic_damping: float
    quadratic_damping_sd: float
    natural_period_s: float
    natural_period_sd_s: float
    list_deg: float
    residual_deg: float
    correlation: float
    n_peaks: int
    amplitude_range_deg: tuple[float, float]
    notes: tuple[str, ...]
    drift_deg_per_min: float = 0.0

    def equivalent_ratio(self, amplitude_rad: float | Floats) -> Floats:
        """Damping ratio of the linear system that loses as much at an amplitude."""
        loss = 4.0 / (3.0 * math.pi) * self.quadratic_damping * np.asarray(amplitude_rad)
        return np.asarray(self.damping_ratio + loss)


def fit_decay(record: DecayRecord) -> DecayFit:
    """Fit damping and period by least squares.

    The sizes of all peaks are fitted at once by the closed form of
    `passage.physics.roll.damping.decay_amplitude`, with the first size and, for signed
    records, a steady list as further unknowns; a list that drifts where that fits clearly
    better. Uncertainties are standard (one sigma), from the scatter of the peaks about the
    fit. Peaks of one side without signs cannot separate a list from size: where a list would
    fit clearly better, a note says how it would change the damping.

    Raises
    ------
    LogError
        No decay of this kind fits the peaks.
    """
    notes: list[str] = []
    sign = np.sign(record.roll_rad[0] - record.roll_rad[1]) * np.where(
        record.half_cycles % 2 == 0, 1.0, -1.0
    )
    one_side = bool(record.half_cycles[1] - record.half_cycles[0] > 1.0)
    size = record.roll_rad if record.signed else np.abs(record.roll_rad)
    solution, free = _best(record, size, sign, listed=record.signed, drifts=False)
    if record.signed:
        moving, moves = _best(record, size, sign, listed=True, drifts=True)
        if _clearly_better(moving, solution):
            solution, free = moving, moves
    elif not one_side:
        # Sizes of both sides in turn show a list, to the side of the first peak or away from it.
        swung, swings = _best(record, size, sign, listed=True, drifts=False)
        if _clearly_better(swung, solution):
            solution, free = swung, swings
            notes.append(
                "every other peak is larger: a list to the side of the larger ones, which is "
                "taken out. With signs (+ to starboard) its side would show"
            )
    first, zeta, quadratic, steady, drift = _unpack(solution.x, free)
    sd, correlation, residual = _uncertainty(solution, free)
    if residual > 0.15 * first:
        raise _no_decay(record)
    if not free[0]:
        notes.append("linear damping is not distinguishable from zero; fitted without it")
    if not free[1]:
        notes.append("quadratic damping is not distinguishable from zero; fitted without it")
    if free[0] and sd[0] > 0.5 * zeta:
        notes.append("linear damping is known to no better than half its value")
    if free[1] and sd[1] > 0.5 * quadratic:
        notes.append("quadratic damping is known to no better than half its value")
    if first > 20.0 * DEG_RAD:
        notes.append(
            "the decay starts above 20 deg, where the righting arm is no longer a straight line"
        )
    if drift:
        notes.append(
            f"the mean heel drifts by {drift / DEG_RAD:+.2f} deg a minute, which is taken out: "
            "wind, or a tank that empties?"
        )
    notes += _residual_words(solution.fun)
    if one_side:
        notes += _one_side_words(record, size, sign, solution, zeta, quadratic)
    period, period_sd = _period(record, zeta)
    mean = steady + drift * _minutes(record)
    sizes = np.abs(size - (mean if record.signed else mean * _turns(record)))
    return DecayFit(
        damping_ratio=zeta,
        damping_ratio_sd=sd[0],
        quadratic_damping=quadratic,
        quadratic_damping_sd=sd[1],
        natural_period_s=period,
        natural_period_sd_s=period_sd,
        list_deg=steady / DEG_RAD,
        residual_deg=residual / DEG_RAD,
        correlation=correlation,
        n_peaks=record.time_s.size,
        amplitude_range_deg=(float(sizes.min()) / DEG_RAD, float(sizes.max()) / DEG_RAD),
        notes=tuple(notes),
        drift_deg_per_min=drift / DEG_RAD,
    )


def _best(record: DecayRecord, size: Floats, sign: Floats, *, listed: bool, drifts: bool):  # type: ignore[no-untyped-def]
    """The fit, and its unknowns: a damping that the scatter drives to zero is left out.

    The rest is then fitted again, so that the uncertainty of what remains is right.
    """
    free = [True, True, listed, drifts]
    while True:
        solution = _solve(record, size, sign, free)
        values = _unpack(solution.x, free)
        worst = [i for i in (0, 1) if free[i] and values[1 + i] <= 1e-9]
        if not worst:
            return solution, free
        free[worst[0]] = False
        if not any(free[:2]):
            raise _no_decay(record)


def _clearly_better(more, less) -> bool:  # type: ignore[no-untyped-def]
    """Whether one more unknown explains more than chance would in 99 of 100 records (F test)."""
    from scipy.stats import f as fisher

    freedom = more.fun.size - more.x.size
    left = float(np.sum(more.fun**2))
    gain = float(np.sum(less.fun**2)) - left
    if freedom < 2 or gain <= 0.0 or more.x.size <= less.x.size:
        return False
    # A record read to a tenth of a degree has no better scatter than that.
    noise = max(left / freedom, (_LEAST_SCATTER_DEG * DEG_RAD) ** 2)
    return float(fisher.sf(gain / noise, 1, freedom)) < _CHANCE


def _residual_words(residual: Floats) -> list[str]:
    """A warning where the residuals are not noise: they keep their sign, or alternate."""
    n = residual.size
    scatter = float(np.sqrt(np.mean(residual**2)))
    if n < _FEWEST_FOR_PATTERN or scatter < _LEAST_SCATTER_DEG * DEG_RAD:
        return []
    left = residual - residual.mean()
    tie = float(np.sum(left[1:] * left[:-1]) / np.sum(left**2))
    # The correlation of noise is about -1/n, with a standard deviation of 1/sqrt(n).
    if abs(tie + 1.0 / n) < _PATTERN / np.sqrt(n):
        return []
    how = (
        "they go together from peak to peak: other damping than linear and quadratic, a second "
        "motion, or wind"
        if tie > 0.0
        else "they alternate from side to side: a list, or a scale that is off on one side"
    )
    return [
        f"what is left over ({scatter / DEG_RAD:.2f} deg) is not noise: {how}. +- is too small then"
    ]


def _one_side_words(  # type: ignore[no-untyped-def]
    record: DecayRecord, size: Floats, sign: Floats, solution, zeta: float, quadratic: float
) -> list[str]:
    """What peaks of one side cannot show, and how a list would change the damping."""
    tilt = min(DEG_RAD, 0.5 * float(size.min()))
    upright, kept = _best(record, size - tilt, sign, listed=False, drifts=False)
    _, less, quadratic_less, _, _ = _unpack(upright.x, kept)
    middle = 4.0 / (3.0 * math.pi) * float(np.sqrt(size[0] * size[-1]))
    as_read, so = zeta + middle * quadratic, less + middle * quadratic_less
    words = [
        "peaks of one side cannot separate a list from roll: if "
        f"{tilt / DEG_RAD:.1f} deg of them were list, the damping would be "
        f"{100.0 * (so / as_read - 1.0):+.0f} %. Give the peaks of both sides with signs (+ to "
        "starboard)"
    ]
    listed, free = _best(record, size, sign, listed=True, drifts=False)
    if size.size >= _FEWEST_FOR_LIST and _clearly_better(listed, solution):
        _, ratio, by_speed, steady, _ = _unpack(listed.x, free)
        words.append(
            f"a list of {steady / DEG_RAD:+.1f} deg to the side of the peaks would fit clearly "
            f"better, with damping_ratio {ratio:.4f} and quadratic_damping {by_speed:.3f}"
        )
    return words


def _turns(record: DecayRecord) -> Floats:
    """+1 on the side of the first peak, -1 on the other."""
    return np.where(record.half_cycles % 2.0 < 0.5, 1.0, -1.0)


def _minutes(record: DecayRecord) -> Floats:
    """Minutes from the middle of the record."""
    return np.asarray((record.time_s - record.time_s.mean()) / 60.0)


def _no_decay(record: DecayRecord) -> LogError:
    return LogError(
        str(
            Problem(
                file=record.path,
                what="no decay with linear and quadratic damping fits these peaks",
                fix="Check that they are the peaks of one free decay in calm water.",
            )
        )
    )


def _unpack(x: Floats, free: list[bool]) -> tuple[float, float, float, float, float]:
    """First size, zeta, b, list and its drift a minute; 0 for those that are not free."""
    rest = [float(value) for value in x[1:]]
    values = [rest.pop(0) if one else 0.0 for one in free]
    return float(x[0]), values[0], values[1], values[2], values[3]


def _solve(record: DecayRecord, size: Floats, sign: Floats, free: list[bool]):  # type: ignore[no-untyped-def]
    """Least squares over the free unknowns."""
    n, minutes = record.half_cycles, _minutes(record)
    # A list is on the side of every other size, or of all where they are of one side.
    side = sign if record.signed else 1.0
    of_list = 1.0 if record.signed else _turns(record)

    def residuals(x: Floats) -> Floats:
        first, zeta, quadratic, steady, drift = _unpack(x, free)
        model = side * decay_amplitude(n, first, zeta, quadratic)
        return np.asarray(size - (model + of_list * steady + drift * minutes))

    start = [float(np.abs(size[0]))]
    lower, upper, scale = [1e-6], [2.0], [start[0]]
    for one, (begin, least, most, unit) in zip(free, _UNKNOWNS, strict=True):
        if one:
            start.append(begin)
            lower.append(least)
            upper.append(most)
            scale.append(unit)
    return least_squares(
        residuals, start, bounds=(lower, upper), x_scale=scale, xtol=1e-14, ftol=1e-14, gtol=1e-14
    )


def _uncertainty(solution, free: list[bool]):  # type: ignore[no-untyped-def]
    """Standard uncertainties of zeta and b, their correlation, and the scatter."""
    jacobian = solution.jac
    n, p = jacobian.shape
    scatter = float(np.sqrt(2.0 * solution.cost / (n - p)))
    covariance = np.linalg.pinv(jacobian.T @ jacobian) * scatter**2
    deviation = np.sqrt(np.diag(covariance))
    sd = [math.nan, math.nan]
    at = 1
    for i in (0, 1):
        if free[i]:
            sd[i] = float(deviation[at])
            at += 1
    correlation = 0.0
    if all(free[:2]) and deviation[1] > 0.0 and deviation[2] > 0.0:
        correlation = float(covariance[1, 2] / (deviation[1] * deviation[2]))
    return sd, correlation, scatter


def _period(record: DecayRecord, zeta: float) -> tuple[float, float]:
    """Natural period and its standard uncertainty from the times of the peaks."""
    n, t = record.half_cycles, record.time_s
    centred = n - n.mean()
    slope = float((centred * t).sum() / (centred**2).sum())
    residual = t - t.mean() - slope * centred
    sd = math.sqrt(float((residual**2).sum()) / (n.size - 2) / float((centred**2).sum()))
    undamped = math.sqrt(1.0 - zeta**2)
    return 2.0 * slope * undamped, 2.0 * sd * undamped
