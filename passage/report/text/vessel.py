"""What was read from a vessel file, what was estimated, and what follows from it."""

from __future__ import annotations

from typing import Any

import numpy as np

from passage.inputs.vessel import Vessel
from passage.planning.heel.curve import fin_price
from passage.planning.voyage.strips import hydrostatics_beside_the_file
from passage.planning.voyage.yacht import Yacht
from passage.units import DEG_RAD, G_M_S2, knots_to_m_s, rad_to_deg

#: Difference of hydrostatics between sections and file that is reported, as a share.
_ODD_SHARE = 0.10


def vessel_facts(vessel: Vessel) -> dict[str, Any]:
    """Facts for text and JSON: read, estimated, derived, and what looks odd."""
    yacht = Yacht(vessel)
    speeds = np.array(vessel.propulsion.speed_kn, dtype=float)
    chosen = np.array([speeds[0], speeds[len(speeds) // 2], speeds[-1]])
    speed = knots_to_m_s(chosen)
    hull = vessel.particulars
    odd = [warning.split(": ", 1)[-1] for warning in vessel.warnings]
    try:
        rows = hydrostatics_beside_the_file(vessel)
    except ValueError as err:
        rows = []
        odd.append(f"no hull of sections fits her numbers ({err}): motions by closed forms")
    given = {item.key for item in vessel.estimated}
    for what, unit, implied, of_file in rows:
        if of_file and abs(implied / of_file - 1.0) > _ODD_SHARE and hull.sections:
            odd.append(f"{what}: the sections give {implied:.3g} {unit}, the file {of_file:.3g}")
    facts: dict[str, Any] = {
        "schema_version": "1.0",
        "vessel": vessel.name,
        "file": vessel.path,
        "hydrostatics": [
            {"what": what, "unit": unit, "from_sections": implied, "in_file": of_file}
            for what, unit, implied, of_file in rows
        ],
        "natural_roll_period_s": vessel.roll.natural_period_s,
        "fluid_gm_m": hull.gm_m,
        "gm_estimated": "vessel.gm_m" in given,
        "speeds_kn": chosen,
        "damping_ratio": yacht.hull_damping(speed),
        "fuel_l_per_h": yacht.curve.fuel(speed),
        "estimated": [
            {
                "key": item.key,
                "value": item.value,
                "unit": item.unit,
                "low": item.low,
                "high": item.high,
                "method": item.method,
            }
            for item in vessel.estimated
        ],
        "odd": odd,
    }
    if yacht.has_fins:
        fins = yacht.fins_at(speed)
        ratio = np.sum(np.asarray(fins.moment_ratio), axis=-1)
        most = np.sum(np.asarray(fins.moment_ratio) * yacht.offset_most_rad, axis=-1)
        degree_t_m = hull.displacement_t * hull.gm_m * np.tan(DEG_RAD)
        facts["fin_moment_t_m_per_deg"] = (
            ratio * yacht.righting_n_m_per_rad * DEG_RAD / G_M_S2 / 1000.0
        )
        facts["heel_held_deg"] = rad_to_deg(most)
        facts["offset_l_per_h_for_one_deg"] = np.where(
            rad_to_deg(most) >= 1.0, fin_price(yacht, speed) * degree_t_m**2, np.nan
        )
    return facts


def vessel_text(facts: dict[str, Any]) -> str:
    """The facts as text."""
    lines = [f"{facts['vessel']}, {facts['file']}"]
    if facts["odd"]:
        lines += ["", "Looks odd", *(f"- {text}" for text in facts["odd"])]
    else:
        lines += ["Nothing looks odd."]
    if facts["hydrostatics"]:
        lines += ["", f"{'Hydrostatics':44}{'sections':>10}{'file':>10}"]
        for row in facts["hydrostatics"]:
            of_file = "-" if row["in_file"] is None else f"{row['in_file']:.3g}"
            name = f"{row['what']}{', ' + row['unit'] if row['unit'] else ''}"
            lines.append(f"  {name:42}{row['from_sections']:>10.3g}{of_file:>10}")
    sure = " (estimated)" if facts["gm_estimated"] else ""
    lines += [
        "",
        f"Natural roll period {facts['natural_roll_period_s']:.1f} s, fluid GM "
        f"{facts['fluid_gm_m']:.2f} m{sure}.",
        "",
        _row("At a speed of, kn", facts["speeds_kn"], 1),
        _row("  fuel in still water, l/h", facts["fuel_l_per_h"], 0),
        _row("  damping without fins, % of critical", 100.0 * facts["damping_ratio"], 1),
    ]
    if "heel_held_deg" in facts:
        lines += [
            _row("  fin moment, t m for each degree", facts["fin_moment_t_m_per_deg"], 2),
            _row("  heel held at the largest offset, deg", facts["heel_held_deg"], 1),
            _row("  to hold one degree, l/h", facts["offset_l_per_h_for_one_deg"], 1),
        ]
    else:
        lines.append("  no fins")
    if facts["estimated"]:
        lines += ["", "Estimated, as the file does not give it"]
        lines += [f"  {estimate_words(item)}" for item in facts["estimated"]]
    return "\n".join(lines)


def _row(label: str, values: Any, decimals: int) -> str:
    cells = ("-" if v != v else f"{v:.{decimals}f}" for v in np.asarray(values, float))
    return f"{label:44}" + "".join(f"{cell:>10}" for cell in cells)


def estimate_words(item: dict[str, Any]) -> str:
    """One estimate: key, value, band, method."""
    value = item["value"]
    shown = value if isinstance(value, str) else f"{value:.3g} {item['unit']}".rstrip()
    band = ""
    if item["low"] is not None and item["low"] < item["high"]:
        band = f" ({item['low']:.3g} to {item['high']:.3g})"
    return f"{item['key']} = {shown}{band}: {item['method']}"
