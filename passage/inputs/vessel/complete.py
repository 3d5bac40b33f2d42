"""Particulars that a master may not have at hand: filled in by named methods, with a band.

What is compulsory is what nobody can guess: name, length, beam, displacement or draught,
a roll period or GM, the area of each fin, and two points of speed and fuel.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from typing import Any

from passage.errors import Problem
from passage.inputs.vessel import estimates, model
from passage.inputs.vessel.messages import Reporter, unit_of
from passage.inputs.vessel.schema import FinsSection, VesselFile, VesselSection
from passage.physics.hull.stability import gm_from_roll_period_m

#: Block coefficient of a displacement or semi-displacement yacht, and the range in which
#: nearly all are; common practice, no source.
BLOCK, BLOCK_LOW, BLOCK_HIGH = 0.48, 0.40, 0.56
#: The radius of gyration in roll differs from the code's by a tenth either way, and GM from
#: a period with its square; assumption.
PERIOD_BAND = 0.10
#: Lever of the fins over the beam; 0.4 to 0.5 is usual (common practice).
LEVER, LEVER_LOW, LEVER_HIGH = 0.42, 0.36, 0.48
#: Rate of roll at which usual gains put the fins at their limit [deg/s]; assumption.
FULL_RATE, FULL_RATE_LOW, FULL_RATE_HIGH = 5.0, 3.5, 8.0

#: Ends of the bands of other estimates, as factors; assumptions, but for the ranges that
#: the estimates themselves name (common practice).
BANDS = {
    "roll.natural_period_s": (0.9, 1.1),
    "roll.damping_ratio": (0.6, 2.2),
    "roll.damping_ratio_per_kn": (0.5, 1.7),
    "roll.quadratic_damping": (0.5, 3.0),
    "hotel.generator_l_per_h": (0.5, 1.75),
    "windage.frontal_area_m2": (0.7, 1.4),
    "windage.lateral_area_m2": (0.65, 1.4),
    "propulsion.propulsive_efficiency": (0.50 / 0.55, 0.60 / 0.55),
    "propulsion.specific_fuel_g_per_kwh": (205.0 / 215.0, 225.0 / 215.0),
}

#: Value, low end, high end (None where it follows from what the file gives), and the sentence
#: for the plan.
Banded = tuple[float, float | None, float | None, str]


def is_whole(file: VesselFile) -> bool:
    """Whether the hull has what its checks need, from the file or from `complete`."""
    hull = file.vessel
    return None not in (hull.draught_m, hull.displacement_t, hull.gm_m)


def _needed(report: Reporter, without: frozenset[str]) -> list[Problem]:
    """Pairs of which neither is given; looked up in the file, as a section may be refused."""
    hull, roll = (report.data.get(name) for name in ("vessel", "roll"))
    if not isinstance(hull, Mapping):
        return []
    problems = []
    if not {"draught_m", "displacement_t"} & set(hull):
        problems.append(
            report.problem(
                ("vessel", "draught_m"),
                "is missing, and displacement_t as well: one of them is needed.",
                "Add draught_m, read at the marks, or displacement_t, from the booklet.",
            )
        )
    timed = "roll" in without or (isinstance(roll, Mapping) and "natural_period_s" in roll)
    if "gm_m" not in hull and not timed:
        problems.append(
            report.problem(
                ("vessel", "gm_m"),
                "is missing, and [roll] natural_period_s as well: one of them is needed.",
                "Roll her at the berth, time ten rolls, divide by ten, and write "
                "natural_period_s under [roll]; or take gm_m from the stability booklet.",
            )
        )
    return problems


def complete(
    file: VesselFile, report: Reporter, without: frozenset[str] = frozenset()
) -> tuple[VesselFile, list[model.Estimate], list[Problem]]:
    """The file completed for hull and fins, the estimates, and problems with what is needed.

    ``without`` names sections that could not be read.
    """
    problems = _needed(report, without)
    if "vessel" in without or problems:
        return file, [], problems
    hull = file.vessel
    period = None if "roll" in without else file.roll.natural_period_s
    if hull.gm_m is None and period is None:
        return file, [], []
    found: list[model.Estimate] = []

    def fill(part: Any, section: str, banded: dict[str, Banded]) -> Any:
        new = {}
        for key, (value, low, high, method) in banded.items():
            if getattr(part, key) is None:
                new[key] = value
                unit = unit_of(key, type(part).model_fields[key])
                found.append(
                    model.Estimate(
                        key=f"{section}.{key}",
                        value=value,
                        unit=unit,
                        method=method,
                        low=low,
                        high=high,
                    )
                )
        return part.model_copy(update=new) if new else part

    hull = fill(hull, "vessel", _size(hull))
    if hull.gm_m is None and period is not None:
        hull = fill(hull, "vessel", {"gm_m": _gm(hull, period)})
    changed: dict[str, Any] = {"vessel": hull}
    if not {"fins", "propulsion"} & without:
        speeds = file.propulsion.speed_kn
        changed["fins"] = [
            fill(pair, f"fins[{i + 1}]", _fins(pair, hull, speeds))
            for i, pair in enumerate(file.fins)
        ]
        # The gain depends on the angle that was filled in.
        changed["fins"] = [
            fill(pair, f"fins[{i + 1}]", {"rate_gain_s": _gain(pair)})
            for i, pair in enumerate(changed["fins"])
        ]
    return file.model_copy(update=changed), found, []


def band_of(key: str, value: float | str) -> tuple[float | None, float | None]:
    """Ends of the band of an estimate by its key; None where it has none."""
    factors = BANDS.get(key)
    if factors is None or isinstance(value, str):
        return None, None
    return value * factors[0], value * factors[1]


def _size(v: VesselSection) -> dict[str, Banded]:
    """Draught from displacement, or the other way, by her block coefficient or a usual one."""
    area = v.length_waterline_m * v.beam_waterline_m
    if v.block_coefficient is not None:
        known = estimates.SEA_DENSITY_T_M3 * v.block_coefficient * area
        words = f"block_coefficient {v.block_coefficient:g}"
        if v.draught_m is None:
            draught = v.displacement_t / known
            return {"draught_m": (draught, None, None, f"from displacement_t and {words}")}
        if v.displacement_t is None:
            weight = known * v.draught_m
            return {"displacement_t": (weight, None, None, f"from the draught and {words}")}
        return {}
    words = f"block coefficient {BLOCK:g}, {BLOCK_LOW:g} to {BLOCK_HIGH:g} (common practice)"
    ends = (BLOCK, BLOCK_LOW, BLOCK_HIGH)
    if v.draught_m is None:
        t, most, least = (v.displacement_t / (estimates.SEA_DENSITY_T_M3 * c * area) for c in ends)
        return {"draught_m": (t, least, most, f"from displacement_t with a {words}")}
    if v.displacement_t is None:
        d, low, high = (estimates.SEA_DENSITY_T_M3 * c * area * v.draught_m for c in ends)
        return {"displacement_t": (d, low, high, f"from the draught with a {words}")}
    return {}


def _gm(v: VesselSection, period_s: float) -> Banded:
    """GM that gives the timed period."""
    gm, low, high = (
        float(
            gm_from_roll_period_m(
                v.length_waterline_m, v.beam_waterline_m, v.draught_m, period_s * factor
            )
        )
        for factor in (1.0, 1.0 + PERIOD_BAND, 1.0 - PERIOD_BAND)
    )
    return gm, low, high, "from natural_period_s by the 2008 IS Code, Part A 2.3"


def _fins(f: FinsSection, v: VesselSection, speeds_kn: list[float]) -> dict[str, Banded]:
    """Usual fins of the area given."""
    beam = v.beam_waterline_m
    cruise = speeds_kn[0] + 2.0 / 3.0 * (speeds_kn[-1] - speeds_kn[0])
    aspect = 1.0 if f.aspect_ratio is None else f.aspect_ratio
    given = f.model_copy(update={"aspect_ratio": aspect})
    stall = given.stall_angle_deg or estimates.stall_angle(given)[0]
    angle = min(25.0, math.floor(stall))
    return {
        "aspect_ratio": (1.0, 0.7, 1.3, "a usual fin (assumption)"),
        "lever_m": (
            LEVER * beam,
            LEVER_LOW * beam,
            LEVER_HIGH * beam,
            f"{LEVER:g} x beam (common practice)",
        ),
        "max_angle_deg": (angle, 0.8 * angle, angle, "25 deg or the stall (common practice)"),
        "max_rate_deg_s": (25.0, 15.0, 35.0, "15 to 35 deg/s is usual (common practice)"),
        "reference_speed_kn": (
            cruise,
            cruise,
            cruise,
            "two thirds up the speed-fuel points (assumption)",
        ),
    }


def _gain(f: FinsSection) -> Banded:
    """Gain that puts the fins at their limit in a usual rate of roll."""
    angle = f.max_angle_deg
    return (
        angle / FULL_RATE,
        angle / FULL_RATE_HIGH,
        angle / FULL_RATE_LOW,
        f"fins at their limit at {FULL_RATE:g} deg/s of roll (assumption)",
    )
