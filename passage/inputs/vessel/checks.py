"""Whether the keys of a vessel file agree with each other."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from itertools import pairwise

from passage.errors import Problem
from passage.inputs.vessel import estimates
from passage.inputs.vessel.messages import Reporter
from passage.inputs.vessel.schema import VesselFile, VesselSection
from passage.physics.hull.sections import sections_from_lines
from passage.physics.resistance.wind import BLENDERMANN_CLASSES, REGRESSION
from passage.units import FOOT_M

#: Keys of a section, in the order of the physics.
SECTION_KEYS = ("x_m", "breadth_m", "draught_m", "area_m2")
#: How far sections may differ from the rest of the file: length and breadth; draught and
#: displacement, which go with the loading (assumptions).
SECTION_LENGTH_SHARE, SECTION_DRAUGHT_SHARE = 0.05, 0.15

#: Idling over the fuel of the lowest point of speed and fuel, at most; assumption.
MOST_IDLE = 0.5

Check = Callable[[], Iterator[Problem]]

#: Block coefficients of displacement and semi-displacement hulls; common practice.
BLOCK_RANGE = (0.3, 0.9)


def find_problems(
    file: VesselFile, report: Reporter, without: frozenset[str] = frozenset()
) -> list[Problem]:
    """Everything that makes the file unusable, beyond what the single keys show.

    ``without`` names sections that could not be read; checks that need them are left
    out.
    """
    checks: tuple[tuple[Check, set[str]], ...] = (
        (lambda: _hull(file.vessel, report), {"vessel"}),
        (lambda: _roll(file, report), {"roll"}),
        (lambda: _fins(file, report), {"fins"}),
        (lambda: _curve(file, report), {"propulsion"}),
        (lambda: _tanks(file, report), {"tanks"}),
        (lambda: _burn(file, report), {"tanks", "loading"}),
        (lambda: _events(file, report), {"loading"}),
        (lambda: _windage(file, report), {"windage"}),
        (lambda: _places(file, report), {"places"}),
        (lambda: _standing(file, report), {"standing"}),
    )
    return [problem for check, needs in checks if not needs & without for problem in check()]


def _hull(v: VesselSection, report: Reporter) -> Iterator[Problem]:
    block, _ = estimates.block_coefficient(v)
    low, high = BLOCK_RANGE
    if not low <= block <= high:
        yield report.problem(
            ("vessel", "displacement_t"),
            f"does not fit length x beam x draught = {v.length_waterline_m:g} x "
            f"{v.beam_waterline_m:g} x {v.draught_m:g} m: the block coefficient would be "
            f"{block:.3g}, and hulls have {low} to {high}.",
            _likely_slip(v),
        )
    if v.length_overall_m is not None and v.length_overall_m < v.length_waterline_m:
        yield report.problem(
            ("vessel", "length_overall_m"),
            f"must be at least length_waterline_m = {v.length_waterline_m:g} m.",
        )
    if v.length_waterline_m < 2.0 * v.beam_waterline_m:
        yield report.problem(
            ("vessel", "beam_waterline_m"),
            f"must be at most half of length_waterline_m = {v.length_waterline_m:g} m.",
            "Are length and beam interchanged?",
        )
    if v.draught_m > v.beam_waterline_m:
        yield report.problem(
            ("vessel", "draught_m"),
            f"must be at most beam_waterline_m = {v.beam_waterline_m:g} m.",
            "Are beam and draught interchanged?",
        )
    ends = (v.entrance_length_m or 0.0) + (v.run_length_m or 0.0)
    if ends > v.length_waterline_m:
        yield report.problem(
            ("vessel", "entrance_length_m" if v.entrance_length_m else "run_length_m"),
            f"entrance and run together are {ends:g} m, longer than the waterline, "
            f"{v.length_waterline_m:g} m.",
        )
    yield from _sections(v, report)
    if v.minimum_gm_m is not None and v.gm_m < v.minimum_gm_m:
        yield report.problem(
            ("vessel", "gm_m"),
            f"is under minimum_gm_m = {v.minimum_gm_m:g} m, which the stability booklet forbids.",
            "Correct the loading, or the number.",
        )


def _sections(v: VesselSection, report: Reporter) -> Iterator[Problem]:
    """Whether the sections of the lines plan make the hull that the file describes."""
    rows = v.sections
    if not rows:
        return
    place = ("vessel", "sections")
    columns = [[getattr(row, key) for row in rows] for key in SECTION_KEYS]
    x, breadth, draught, area = columns
    if len(rows) < 5 or any(b <= a for a, b in pairwise(x)):
        yield report.problem(
            place,
            "must be at least five, with x_m rising from the after end forward.",
            "Give ten to twenty sections; a pointed end has breadth, draught and area 0.",
        )
        return
    for what, found, wanted, share in (
        ("the length they span", x[-1] - x[0], v.length_waterline_m, SECTION_LENGTH_SHARE),
        ("their largest breadth", max(breadth), v.beam_waterline_m, SECTION_LENGTH_SHARE),
        ("their largest draught", max(draught), v.draught_m, SECTION_DRAUGHT_SHARE),
        (
            "the displacement they add up to, in sea water,",
            sum(0.5 * (x[i + 1] - x[i]) * (area[i] + area[i + 1]) for i in range(len(x) - 1))
            * estimates.SEA_DENSITY_T_M3,
            v.displacement_t,
            SECTION_DRAUGHT_SHARE,
        ),
    ):
        if abs(found / wanted - 1.0) > share:
            yield report.problem(
                place,
                f"do not fit the rest of [vessel]: {what} is {found:.4g}, there {wanted:g}.",
                "Take them at the waterline of this loading.",
            )
    try:
        sections_from_lines(x, breadth, draught, area)
    except ValueError as err:
        yield report.problem(
            place, f"do not make a hull: {err}.", "Check breadth, draught and area."
        )


def _likely_slip(v: VesselSection) -> str:
    """Name the unit slip that would make the block coefficient plausible."""
    block, _ = estimates.block_coefficient(v)
    slips = (
        (
            1e-3,
            f"Was it typed in kilograms? Then write displacement_t = {v.displacement_t / 1e3:g}.",
        ),
        (1.0 / FOOT_M**3, "Are length, beam and draught in feet? Write them in metres."),
        (1.0 / FOOT_M, "Is length_waterline_m in feet? Write it in metres."),
        (1e3, "Was it typed in thousands of tonnes? Write tonnes."),
    )
    low, high = BLOCK_RANGE
    for factor, words in slips:
        if low <= block * factor <= high:
            return words
    return "Check all four numbers and their units."


def _roll(file: VesselFile, report: Reporter) -> Iterator[Problem]:
    slope = file.roll.wave_slope_coefficient
    if isinstance(slope, float) and not 0.2 <= slope <= 1.5:
        yield report.problem(
            ("roll", "wave_slope_coefficient"),
            'must be "strip", "formula" or a number from 0.2 to 1.5.',
        )
    if (file.roll.bilge_keel_length_m is None) != (file.roll.bilge_keel_breadth_m is None):
        given = "length" if file.roll.bilge_keel_breadth_m is None else "breadth"
        other = "breadth" if given == "length" else "length"
        yield report.problem(
            ("roll", f"bilge_keel_{given}_m"),
            "needs the other of the two.",
            f"Add bilge_keel_{other}_m.",
        )


def _fins(file: VesselFile, report: Reporter) -> Iterator[Problem]:
    seen: dict[str, int] = {}
    for i, fins in enumerate(file.fins):
        if fins.count not in (2, 4):
            yield report.problem(
                ("fins", i, "count"), "must be 2 or 4: fins come in pairs, one a side."
            )
        if fins.position in seen:
            both = "is missing, and taken as" if "position" not in fins.model_fields_set else "is"
            yield report.problem(
                ("fins", i, "position"),
                f"{both} {fins.position}, as [[fins]] {seen[fins.position] + 1} is already.",
                "Give each entry its own, such as forward and aft.",
            )
        seen.setdefault(fins.position, i)


def _curve(file: VesselFile, report: Reporter) -> Iterator[Problem]:
    p = file.propulsion
    if len(p.speed_kn) != len(p.fuel_l_per_h):
        yield report.problem(
            ("propulsion", "fuel_l_per_h"),
            f"has {len(p.fuel_l_per_h)} values, and speed_kn has {len(p.speed_kn)}.",
            "Give one fuel value for each speed.",
        )
    if (
        p.idle_fuel_l_per_h is not None
        and p.fuel_l_per_h
        and p.idle_fuel_l_per_h > MOST_IDLE * p.fuel_l_per_h[0]
    ):
        yield report.problem(
            ("propulsion", "idle_fuel_l_per_h"),
            f"must be at most half of the lowest of fuel_l_per_h, {p.fuel_l_per_h[0]:g} l/h.",
            "Give the fuel of the main engines alone, turning without way.",
        )
    if p.brake_power_kw is not None and len(p.brake_power_kw) != len(p.speed_kn):
        yield report.problem(
            ("propulsion", "brake_power_kw"),
            f"has {len(p.brake_power_kw)} values, and speed_kn has {len(p.speed_kn)}.",
            "Give one power for each speed.",
        )
    for key, values in (
        ("speed_kn", p.speed_kn),
        ("fuel_l_per_h", p.fuel_l_per_h),
        ("brake_power_kw", p.brake_power_kw or []),
    ):
        for i, value in enumerate(values):
            if value < 0.0 or (key == "speed_kn" and value > 80.0):
                limit = "from 0 to 80 kn" if key == "speed_kn" else "at least 0"
                yield report.problem(("propulsion", key, i), f"must be {limit}.")
            elif i and value <= values[i - 1]:
                yield report.problem(
                    ("propulsion", key, i),
                    f"must be greater than the value before it, {values[i - 1]:g}.",
                    "Sort the points by speed; fuel rises with speed.",
                )


def _tanks(file: VesselFile, report: Reporter) -> Iterator[Problem]:
    names = [tank.name for tank in file.tanks]
    holds = {tank.name: tank.holds for tank in file.tanks}
    for i, tank in enumerate(file.tanks):
        if tank.name in names[:i]:
            yield report.problem(
                ("tanks", i, "name"),
                f"is used by [[tanks]] {names.index(tank.name) + 1} already.",
                "Give each tank its own name.",
            )
        if tank.content_m3 > tank.capacity_m3:
            yield report.problem(
                ("tanks", i, "content_m3"),
                f"must be at most capacity_m3 = {tank.capacity_m3:g} m3.",
            )
        if tank.minimum_m3 > tank.capacity_m3:
            yield report.problem(
                ("tanks", i, "minimum_m3"),
                f"must be at most capacity_m3 = {tank.capacity_m3:g} m3.",
            )
        for j, other in enumerate(tank.moves_with or []):
            path = ("tanks", i, "moves_with", j)
            if other not in names or other == tank.name:
                yield report.problem(
                    path, "is not the name of another tank.", _tank_names(names, tank.name)
                )
            elif holds[other] != tank.holds:
                yield report.problem(
                    path, f"holds {holds[other]}, and {tank.name} holds {tank.holds}."
                )


def _tank_names(names: list[str], but: str = "") -> str:
    others = [name for name in names if name != but]
    return f"Tanks here: {', '.join(others)}." if others else "There is no [[tanks]] entry."


def _burn(file: VesselFile, report: Reporter) -> Iterator[Problem]:
    burn = file.loading.burn
    if not burn:
        return
    names = [tank.name for tank in file.tanks]
    fuel = {tank.name for tank in file.tanks if tank.holds == "fuel"}
    for i, item in enumerate(burn):
        path = ("loading", "burn", i, "tank")
        if item.tank not in names:
            yield report.problem(path, "is not the name of a tank.", _tank_names(names))
        elif item.tank not in fuel:
            yield report.problem(path, "does not hold fuel.", "Name a fuel tank.")
        if item.tank in [other.tank for other in burn[:i]]:
            yield report.problem(path, "is listed twice.", "Add the two shares together.")
    total = sum(item.share for item in burn)
    if abs(total - 1.0) > 1e-3:
        yield report.problem(
            ("loading", "burn"),
            f"shares add up to {total:g}, and must add up to 1.",
            "Give the part of all the fuel burnt that each tank supplies.",
            show_value=False,
        )


def _events(file: VesselFile, report: Reporter) -> Iterator[Problem]:
    for i, event in enumerate(file.loading.events):
        if (event.leg is None) == (event.miles_to_go is None):
            yield report.problem(
                ("loading", "events", i),
                f"'{event.what}' needs one of leg and miles_to_go, and has "
                f"{'neither' if event.leg is None else 'both'}.",
                "Give the leg it begins with, or the miles left to the end of the route.",
                show_value=False,
            )


def _windage(file: VesselFile, report: Reporter) -> Iterator[Problem]:
    family = file.windage.family if file.windage is not None else None
    if family is not None and family not in (*BLENDERMANN_CLASSES, REGRESSION):
        names = ", ".join(f'"{name}"' for name in (*BLENDERMANN_CLASSES, REGRESSION))
        yield report.problem(("windage", "family"), f"must be one of {names}.")
    if family == REGRESSION and file.windage is not None:
        needed = (
            "frontal_area_m2",
            "lateral_area_m2",
            "lateral_centroid_above_waterline_m",
            "superstructure_area_m2",
            "bridge_height_m",
            "lateral_centroid_forward_m",
        )
        missing = [key for key in needed if getattr(file.windage, key) is None]
        if missing:
            yield report.problem(
                ("windage", "family"),
                f"needs {', '.join(missing)} as well.",
                "Give them, or name one of the classes.",
            )


def _places(file: VesselFile, report: Reporter) -> Iterator[Problem]:
    names = [place.name for place in file.places]
    for i, name in enumerate(names):
        if name in names[:i]:
            yield report.problem(
                ("places", i, "name"),
                f"is used by [[places]] {names.index(name) + 1} already.",
                "Give each place its own name.",
            )


def _standing(file: VesselFile, report: Reporter) -> Iterator[Problem]:
    standing = file.standing
    if standing is None:
        return
    for one in standing.lists_deg:
        if not -15.0 <= one <= 15.0:
            yield report.problem(
                ("standing", "lists_deg"), f"{one:g} deg: must be -15 to 15 deg, + to starboard."
            )
    place = ("ballast_t", "ballast_y_m", "ballast_z_m")
    missing = [key for key in place if getattr(standing, key) is None]
    if missing and len(missing) < len(place):
        yield report.problem(
            ("standing", missing[0]),
            f"is not given: ballast needs {', '.join(place)}.",
            "Give all three, or none.",
        )
