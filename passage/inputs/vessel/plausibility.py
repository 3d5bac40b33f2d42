"""Legal values that look like a slip of the pen or of the unit, with the slip named."""

from __future__ import annotations

from collections.abc import Iterator

from passage.inputs.vessel import estimates
from passage.inputs.vessel.messages import Reporter
from passage.inputs.vessel.schema import VesselFile
from passage.units import FOOT_M


def find_warnings(file: VesselFile, report: Reporter) -> list[str]:
    """Legal values that look like a slip."""
    return [
        *_hull_warnings(file, report),
        *_fin_warnings(file, report),
        *_curve_warnings(file, report),
        *_other_warnings(file, report),
    ]


def _hull_warnings(file: VesselFile, report: Reporter) -> Iterator[str]:
    v = file.vessel
    block, _ = estimates.block_coefficient(v)
    if v.block_coefficient is not None and abs(v.block_coefficient / block - 1.0) > 0.05:
        yield report.warning(
            ("vessel", "block_coefficient"),
            f"displacement over length x beam x draught gives {block:.3f}, more than 5 % off; "
            "the given one is used in the formulas. Is the draught of another loading, or "
            "does the length include the overhangs?",
        )
    if v.gm_m > 0.35 * v.beam_waterline_m or v.gm_m > 4.0:
        yield report.warning(
            ("vessel", "gm_m"),
            f"is large for a beam of {v.beam_waterline_m:g} m (GM is seldom over a third of "
            "it). Was it typed in feet or decimetres, or is it KM or KG?",
        )
    elif v.gm_m < 0.15:
        yield report.warning(
            ("vessel", "gm_m"), "is under 0.15 m, the least the 2008 IS Code (Part A 2.2) allows."
        )
    if v.kg_m is not None and v.kg_m < 0.5 * v.draught_m:
        yield report.warning(
            ("vessel", "kg_m"), "is less than half the draught. Is it measured from the keel?"
        )
    if v.length_waterline_m > 100.0:
        yield report.warning(
            ("vessel", "length_waterline_m"),
            "is longer than the yachts these methods were checked on. Was it typed in feet? "
            f"Then it is {v.length_waterline_m * FOOT_M:.1f} m.",
        )
    if file.roll.natural_period_s is not None:
        period, _ = estimates.natural_period(v)
        ratio = file.roll.natural_period_s / period
        if not 0.6 <= ratio <= 1.6:
            yield report.warning(
                ("roll", "natural_period_s"),
                f"the 2008 IS Code gives {period:.1f} s for this hull and GM. Is it a half "
                "period, or of another loading?",
            )
    if file.roll.damping_ratio is not None and not 0.01 <= file.roll.damping_ratio <= 0.25:
        yield report.warning(
            ("roll", "damping_ratio"),
            "bare hulls have about 0.02 to 0.10 (common practice). Was it typed in per cent, "
            "or does it include the fins?",
        )


def _fin_warnings(file: VesselFile, report: Reporter) -> Iterator[str]:
    for i, fins in enumerate(file.fins):
        stall = fins.stall_angle_deg or estimates.stall_angle(fins)[0]
        if fins.max_angle_deg > stall:
            yield report.warning(
                ("fins", i, "max_angle_deg"),
                f"is beyond the stall angle, {stall:.1f} deg; lift is lost there, and "
                "the fins are taken to stall.",
            )
        if fins.area_m2 == 0.0:
            yield report.warning(("fins", i, "area_m2"), "these fins do nothing.")
        share = fins.area_m2 * 2 / (file.vessel.length_waterline_m * file.vessel.draught_m)
        if share > 0.12:
            yield report.warning(
                ("fins", i, "area_m2"),
                f"a pair is {100.0 * share:.0f} % of length x draught; fins have 2 to 5 % (common "
                "practice). Was it typed in square feet?",
            )
        if fins.aspect_ratio > 2.5:
            yield report.warning(
                ("fins", i, "aspect_ratio"),
                "is high. Give the geometric one, outreach squared over area; the hull's "
                "mirror effect doubles it here.",
            )
        if fins.lever_m > file.vessel.beam_waterline_m:
            yield report.warning(
                ("fins", i, "lever_m"),
                "is longer than the beam; 0.4 to 0.5 of it is usual (common practice).",
            )
        if fins.max_angle_deg < 3.0:
            yield report.warning(("fins", i, "max_angle_deg"), "is small. Was it typed in radians?")
        if fins.max_rate_deg_s < 3.0:
            yield report.warning(("fins", i, "max_rate_deg_s"), "is slow. Was it typed in rad/s?")


def _curve_warnings(file: VesselFile, report: Reporter) -> Iterator[str]:
    p = file.propulsion
    top = max(p.speed_kn)
    froude_kn = 2.7 * file.vessel.length_waterline_m**0.5
    if top > froude_kn:
        yield report.warning(
            ("propulsion", "speed_kn"),
            f"{top:g} kn is planing speed for this length (over {froude_kn:.0f} kn), beyond these "
            "methods. Were the speeds typed in km/h?",
        )
    elif top < 5.0:
        yield report.warning(("propulsion", "speed_kn"), "is slow. Were they typed in m/s?")
    if p.max_fuel_l_per_h is not None and p.max_fuel_l_per_h < max(p.fuel_l_per_h):
        yield report.warning(
            ("propulsion", "max_fuel_l_per_h"),
            f"is under the curve's own largest, {max(p.fuel_l_per_h):g} l/h.",
        )
    if p.trial_displacement_t is not None:
        ratio = p.trial_displacement_t / file.vessel.displacement_t
        if not 0.6 <= ratio <= 1.6:
            yield report.warning(
                ("propulsion", "trial_displacement_t"),
                f"is {ratio:.2g} times displacement_t; the correction is meant for less.",
            )


def _other_warnings(file: VesselFile, report: Reporter) -> Iterator[str]:
    half = file.vessel.beam_waterline_m / 2.0
    for i, tank in enumerate(file.tanks):
        if abs(tank.y_m) > 1.2 * half:
            yield report.warning(
                ("tanks", i, "y_m"),
                f"is outside the hull (half beam {half:g} m). Is it the distance between tanks?",
            )
        if (tank.length_m is None) != (tank.breadth_m is None):
            key = "length_m" if tank.breadth_m is None else "breadth_m"
            yield report.warning(
                ("tanks", i, key),
                "needs the other of the two; without it the free surface is not counted.",
            )
        elif tank.length_m is None and file.transfer is not None:
            yield report.warning(
                ("tanks", i, "name"),
                "has no length_m and breadth_m: its free surface is not counted in transfers.",
            )
        if tank.breadth_m is not None and tank.breadth_m > 2.0 * half:
            yield report.warning(("tanks", i, "breadth_m"), "is wider than the hull.")
    if abs(file.loading.list_deg) > 8.0:
        yield report.warning(
            ("loading", "list_deg"),
            "is a large list to leave with; the method is for small ones.",
        )
    air = file.windage.air_draught_m if file.windage is not None else None
    centroid = file.windage.lateral_centroid_above_waterline_m if file.windage is not None else None
    if air is not None and centroid is not None and centroid > air:
        yield report.warning(
            ("windage", "lateral_centroid_above_waterline_m"),
            f"is above air_draught_m = {air:g} m.",
        )
    length = file.vessel.length_waterline_m
    for i, place in enumerate(file.places):
        if abs(place.x_m) > 0.65 * length:
            yield report.warning(
                ("places", i, "x_m"),
                "is beyond the ends of the hull. x is measured from midship, + forward.",
            )
