"""A plan as a table for the screen and as CSV."""

from __future__ import annotations

import csv
import io
import textwrap
from collections.abc import Sequence
from typing import Any

from passage.planning.plan.result import PlannedPassage
from passage.units import utc_text
from passage.variables import BY_NAME, LEG_VARIABLES

#: Columns of the screen table; CSV and JSON carry them all.
SCREEN_COLUMNS: tuple[str, ...] = (
    "leg",
    "to",
    "course_true_deg",
    "distance_nm",
    "etd_utc",
    "speed_over_ground_kn",
    "significant_height_m",
    "wave_from_deg",
    "encounter_angle_deg",
    "encounter_side",
    "encounter_period_s",
    "roll_centred_significant_deg",
    "roll_active_significant_deg",
    "fin_at_limit_percent",
    "steady_heel_deg",
    "fin_offset_deg",
    "fuel_l",
    "fuel_fins_offset_l",
    "motion_sickness_percent",
    "coverage",
)

_SHORT = {
    "roll_centred_significant_deg": "roll ctr",
    "roll_active_significant_deg": "roll act",
    "fuel_fins_offset_l": "l offset",
    "fuel_l": "fuel l",
    "etd_utc": "leaves UTC",
    "distance_nm": "nm",
    "wave_from_deg": "from",
    "fin_at_limit_percent": "lim %",
    "motion_sickness_percent": "sick %",
    "steady_heel_deg": "heel",
    "fin_offset_deg": "offset",
    "significant_height_m": "Hs m",
    "encounter_period_s": "Te s",
    "encounter_angle_deg": "enc",
    "speed_over_ground_kn": "SOG",
}


def cell(name: str, value: Any) -> str:
    """One value as the tables show it: the decimals of the variable table, "-" for missing."""
    if value is None or value != value:
        return "-"
    if isinstance(value, (int, float)) and not isinstance(value, bool):
        decimals = BY_NAME[name].decimals if name in BY_NAME else 1
        text = f"{value:.{decimals}f}"
        return text[1:] if float(text) == 0 and text.startswith("-") else text
    if name in ("etd_utc", "eta_utc"):
        return str(value)[5:-1].replace("T", " ")
    return str(value)


def grid(headings: Sequence[str], rows: Sequence[Sequence[str]], left: set[int]) -> str:
    """Columns aligned with two blanks between; ``left`` are aligned to the left."""
    widths = [
        max(len(heading), *(len(row[i]) for row in rows)) if rows else len(heading)
        for i, heading in enumerate(headings)
    ]

    def line(cells: Sequence[str]) -> str:
        parts = [
            text.ljust(width) if i in left else text.rjust(width)
            for i, (text, width) in enumerate(zip(cells, widths, strict=True))
        ]
        return "  ".join(parts).rstrip()

    return "\n".join([line(headings), line(["-" * w for w in widths]), *map(line, rows)])


def plan_table(plan: PlannedPassage) -> str:
    """The plan for the screen: head line, leg table, totals, cautions, assumptions."""
    headings = [_SHORT.get(name, BY_NAME[name].heading) for name in SCREEN_COLUMNS]
    rows = [[cell(name, leg.get(name)) for name in SCREEN_COLUMNS] for leg in plan.legs]
    left = {
        i
        for i, name in enumerate(SCREEN_COLUMNS)
        if name in ("to", "encounter_side", "coverage", "etd_utc")
    }
    totals = plan.totals
    out = [
        f"{plan.vessel_name}: {plan.route_name}, leaving {utc_text(plan.departure_s)}",
        "",
        grid(headings, rows, left),
        "",
        totals_text(totals),
    ]
    if "members" in totals:
        out += ["", *_member_lines(totals["members"])]
    if plan.decisions:
        out += ["", "Decisions"]
        out += [wrapped(decision["text"]) for decision in plan.decisions]
    if plan.notes:
        out += ["", "Notes"]
        out += [wrapped(note) for note in plan.notes]
    out += ["", "Cautions"]
    out += [wrapped(_caution_line(caution)) for caution in plan.cautions]
    out += ["", "How it was computed"]
    out += [wrapped(str(line)) for line in plan.provenance.get("methods", ())]
    estimated = plan.provenance.get("estimated", ())
    if estimated:
        out += ["", "Estimated, not given in the vessel file"]
        out += [wrapped(str(item)) for item in estimated]
    return "\n".join(out) + "\n"


def _member_lines(members: dict[str, Any]) -> list[str]:
    """Spread over the members of an ensemble: 10, 50 and 90 percent."""

    def three(values: Sequence[float | None], decimals: int) -> str:
        return " / ".join("-" if v is None else f"{v:.{decimals}f}" for v in values)

    headings = ["leg", "Hs m", "roll act sig", "fuel l", "hours"]
    names = ("significant_height_m", "roll_active_significant_deg", "fuel_l", "hours")
    rows = [
        [str(leg["leg"])] + [three(leg[n], BY_NAME[n].decimals) for n in names]
        for leg in members["legs"]
    ]
    return [
        f"Spread of {members['count']} members, 10 / 50 / 90 percent "
        f"(fuel of the passage {three(members['fuel_l'], 0)} l); above is the first member",
        grid(headings, rows, set()),
    ]


def _caution_line(caution: Any) -> str:
    if not caution.legs:
        return str(caution.text)
    word = "leg" if len(caution.legs) == 1 else "legs"
    return f"{word} {', '.join(map(str, caution.legs))}: {caution.text}"


def wrapped(text: str, width: int = 100) -> str:
    """A bullet, wrapped."""
    return textwrap.fill(text, width, initial_indent="- ", subsequent_indent="  ")


def totals_text(totals: dict[str, Any]) -> str:
    """The totals in one or two lines of words."""

    def number(key: str, decimals: int) -> str:
        value = totals.get(key)
        return "-" if value is None or value != value else f"{value:.{decimals}f}"

    parts = [
        f"{number('distance_nm', 1)} nm in {number('hours', 1)} h",
        f"arrives {totals['eta_utc']}" if totals.get("eta_utc") else "arrival unknown",
        f"fuel {number('fuel_l', 0)} l"
        + (
            f" ({number('fuel_low_l', 0)} to {number('fuel_high_l', 0)})"
            if totals.get("fuel_low_l") is not None
            else ""
        ),
    ]
    if totals.get("fuel_l") is None and totals.get("fuel_covered_l") is not None:
        parts[-1] = (
            f"fuel unknown in full; {number('fuel_covered_l', 0)} l on the legs the forecast covers"
        )
    text = "Total: " + ", ".join(parts) + "."
    split = ", ".join(
        f"{label} {number(key, 0)}"
        for key, label in (
            ("fuel_still_water_l", "still water"),
            ("fuel_waves_l", "waves"),
            ("fuel_wind_l", "wind"),
            ("fuel_fins_active_l", "fins active"),
            ("fuel_fins_offset_l", "fins offset"),
            ("fuel_list_l", "list"),
            ("fuel_hotel_l", "hotel"),
        )
        if key in totals
    )
    money = ""
    if totals.get("cost") is not None:
        money = f" Cost {number('cost', 0)} {totals.get('currency', '')}."
    if totals.get("co2_t") is not None:
        money += f" CO2 {number('co2_t', 1)} t."
    lines = [text, f"Of it, litres: {split}."]
    if totals.get("fuel_l_per_nm") is not None:
        lines.append(f"{number('fuel_l_per_nm', 1)} l/nm, {number('fuel_t', 2)} t of fuel.{money}")
    if totals.get("fin_hours_active") is not None:
        lines.append(
            f"Fins: active {number('fin_hours_active', 1)} h, at rest "
            f"{number('fin_hours_at_rest', 1)} h, centred {number('fin_hours_centred', 1)} h; "
            f"travel {number('fin_travel_deg', 0)} deg; at the limit "
            f"{number('fin_at_limit_percent', 1)} % of the working time."
        )
    return "\n".join(lines)


def plan_csv(plan: PlannedPassage) -> str:
    """All leg variables, one row a leg; missing values are empty cells."""
    buffer = io.StringIO()
    writer = csv.writer(buffer, lineterminator="\n")
    names = [variable.name for variable in LEG_VARIABLES]
    writer.writerow(names)
    for leg in plan.legs:
        writer.writerow([_csv_value(leg.get(name)) for name in names])
    return buffer.getvalue()


def _csv_value(value: Any) -> Any:
    if value is None or value != value:
        return ""
    if isinstance(value, float):
        return f"{value:.6g}"
    return value
