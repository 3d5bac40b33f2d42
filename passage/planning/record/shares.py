"""The model's share of past passages, and the band that the next plan takes from it.

The model's share of a passage is the logarithm of logged over computed, where computed is
at the speeds she made and in the sea as it was: it holds neither forecast errors nor
departures from the plan. The forecast's share belongs to the odds.
"""

from __future__ import annotations

import hashlib
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from passage.inputs.records.record_file import Entry, Record, Row, number
from passage.inputs.vessel import Vessel

Array = npt.NDArray[np.float64]

#: Quantities of a record and their units in its columns.
KEPT: tuple[tuple[str, str], ...] = (("fuel", "l"), ("roll", "deg"))
#: Share of passages that a band from the record holds.
LEVEL = 0.80
#: With this many passages the record alone makes the band; with fewer, the formula has a part.
ENOUGH = 8
#: With fewer passages than this there is no band.
FEWEST = 3


@dataclass(frozen=True, eq=False)
class Shares:
    """Model's shares of the passages of one vessel, (n,), with the start of each [s].

    ``otherwise`` counts passages whose share was computed with other numbers of the vessel.
    """

    share: Array
    begin_s: Array
    otherwise: int


@dataclass(frozen=True)
class Band:
    """Logged over computed of ``count`` passages: middle and ends, as factors.

    ``weight`` is the record's part in the band, from 0 to 1; the rest is the formula's.
    """

    count: int
    middle: float
    low: float
    high: float
    weight: float


def numbers_of(vessel: Vessel, key: str) -> str:
    """A short digest of the vessel's numbers that decide the model's share of fuel or roll.

    Only numbers that the file gives count: estimated ones change with the loading.
    """
    guessed = {one.key for one in vessel.estimated}

    def given(section: str, part: object, names: tuple[str, ...]) -> list[str]:
        return [
            f"{section}.{name}={getattr(part, name)!r}"
            for name in names
            if f"{section}.{name}" not in guessed
        ]

    if key == "fuel":
        words = given(
            "propulsion",
            vessel.propulsion,
            ("speed_kn", "fuel_l_per_h", "propulsive_efficiency", "specific_fuel_g_per_kwh"),
        )
    else:
        words = given(
            "roll",
            vessel.roll,
            (
                "damping_ratio",
                "damping_ratio_per_kn",
                "quadratic_damping",
                "wave_slope_coefficient",
            ),
        )
        for at, pair in enumerate(vessel.fins, 1):
            names = ("area_m2", "efficiency", "lift_slope_per_rad", "rate_gain_s", "angle_gain")
            words += given(f"fins[{at}]", pair, names)
    return hashlib.sha256("\n".join(words).encode()).hexdigest()[:8]


def share_of(row: Row, key: str, unit: str) -> float:
    """Logarithm of logged over computed of a row; NaN where it is not known."""
    logged, model = number(row, f"{key}_logged_{unit}"), number(row, f"{key}_model_{unit}")
    computed = logged - model
    return float(np.log(logged / computed)) if logged > 0.0 and computed > 0.0 else np.nan


def miss_of(row: Row, key: str, unit: str) -> float:
    """Logarithm of logged over planned of a row; NaN where it is not known."""
    logged, planned = number(row, f"{key}_logged_{unit}"), number(row, f"{key}_planned_{unit}")
    return float(np.log(logged / planned)) if logged > 0.0 and planned > 0.0 else np.nan


def passages_of(record: Record, vessel: str) -> tuple[Entry, ...]:
    """Passages of one vessel, in order of time."""
    return tuple(one for one in record.passages if one.vessel == vessel)


def shares_of(record: Record, vessel: str, key: str, unit: str, numbers: str | None) -> Shares:
    """Model's shares of the passages that were computed with her present numbers.

    ``numbers`` is their digest; None takes that of her last passage that has a share.
    """
    found = [
        (share, one.begin_s, one.whole[f"{key}_numbers"])
        for one in passages_of(record, vessel)
        if np.isfinite(share := share_of(one.whole, key, unit))
    ]
    if numbers is None:
        numbers = found[-1][2] if found else ""
    mine = [one for one in found if one[2] == numbers]
    return Shares(
        np.array([one[0] for one in mine]),
        np.array([one[1] for one in mine]),
        len(found) - len(mine),
    )


def band_of(share: Array) -> Band | None:
    """The band that holds 80 % of new passages like those of the record; None for fewer than 3.

    Student's prediction interval for one more value of a normal sample. Below eight
    passages ``weight`` is less than 1, and the rest of the band is the formula's.
    """
    count = share.size
    if count < FEWEST:
        return None
    from scipy.special import stdtrit

    middle = float(np.mean(share))
    spread = float(np.std(share, ddof=1)) * np.sqrt(1.0 + 1.0 / count)
    half = float(stdtrit(count - 1, 0.5 * (1.0 + LEVEL))) * spread
    low, mid, high = (float(np.exp(x)) for x in (middle - half, middle, middle + half))
    return Band(count, mid, low, high, min(count / ENOUGH, 1.0))
