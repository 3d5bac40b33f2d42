"""A plan as a table for the screen and as CSV."""

from __future__ import annotations

import csv
import io
from collections.abc import Sequence
from typing import Any

from passage.planning.plan.result import Caution, PlannedPassage
from passage.report.text.chances import odds_words
from passage.report.text.clocks import local_short, zones_shown
from passage.report.text.layout import Layout, TextColumn, fitted, grid, paragraph, wrapped
from passage.report.text.standing import caution_lines, standing_lines, title_line
from passage.report.text.tanks import tank_table, transfer_orders
from passage.report.text.verdict import eta_s, number, verdict_lines
from passage.report.text.verdict_plan import plan_verdict
from passage.variables import BY_NAME, COVERAGE_WORDS, LEG_VARIABLES

#: Columns of the screen table in order: name, heading, rank (the highest is left out first
#: to fit), meaning. CSV and JSON have every variable.
SCREEN_COLUMNS: tuple[tuple[str, str, int, str], ...] = (
    ("leg", "leg", 0, ""),
    ("to", "to", 0, ""),
    ("etd_utc", "leaves UTC", 0, ""),
    ("distance_nm", "nm", 2, ""),
    ("course_true_deg", "course", 5, ""),
    ("speed_over_ground_kn", "SOG", 6, "speed over ground, kn"),
    ("significant_height_m", "Hs m", 0, "significant wave height"),
    ("wave_from_deg", "from", 9, "where the waves come from, true"),
    ("encounter_angle_deg", "angle", 3, "sea off the stern, 0 astern, 180 ahead"),
    ("encounter_side", "side", 3, ""),
    ("encounter_period_s", "Te s", 4, "mean time between waves met, short ones too"),
    ("window_roll_significant_deg", "worst\nroll", 0, "significant deg, worst hour"),
    ("roll_centred_significant_deg", "roll\ncentred", 2, "mean of the leg, fins held still"),
    ("roll_active_significant_deg", "roll\nactive", 1, "mean, fins working"),
    ("fin_at_limit_percent", "at\nlimit %", 7, "time the fins have no more angle or rate"),
    ("steady_heel_deg", "heel", 5, "steady lean left, + to starboard"),
    ("fin_offset_deg", "offset", 6, "mean fin angle that holds the heel"),
    ("motion_sickness_percent", "sick %", 1, "of people new to the sea, worst place"),
    ("fuel_l", "fuel l", 0, ""),
    ("fuel_fins_offset_l", "l offset", 8, "litres burnt by the offset"),
)
_ACTIVE = "roll_active_significant_deg"
_LEFT = ("to", "encounter_side", "coverage", "etd_utc", "leaves_local")


def cell(name: str, value: Any) -> str:
    """One value as shown in tables, to the variable's decimals; "-" for missing."""
    if value is None or value != value:
        return "-"
    if isinstance(value, (int, float)) and not isinstance(value, bool):
        decimals = BY_NAME[name].decimals if name in BY_NAME else 1
        text = f"{value:,.{decimals}f}"
        return text[1:] if round(value, decimals) == 0 and text.startswith("-") else text
    if name in ("etd_utc", "eta_utc"):
        return str(value)[5:-1].replace("T", " ")
    return str(value)


def plan_table(plan: PlannedPassage, layout: Layout = Layout()) -> str:  # noqa: B008 - frozen
    """The plan for the screen: verdict, leg table, totals, cautions; more with ``verbose``."""
    out = [title_line(f"{plan.vessel_name}: {plan.route_name}", plan.cautions, layout), ""]
    out += verdict_lines(plan_verdict(plan), layout)
    out += ["", *_leg_lines(plan, layout)]
    if layout.quiet:
        return "\n".join([*out, *standing_lines(layout)]) + "\n"
    out += ["", *totals_lines(plan, layout)]
    out += odds_lines(plan, layout)
    if "members" in plan.totals:
        out += ["", *_member_lines(plan.totals["members"], layout.width)]
    if plan.decisions:
        out += ["", "Decisions"]
        out += [wrapped(decision["text"], layout.width) for decision in plan.decisions]
    out += tank_lines(plan, layout)
    cautions = caution_lines(plan.cautions, layout)
    if cautions:
        out += ["", "Cautions, worst first (! a warning)", *cautions]
    out += note_lines(plan.notes, plan.cautions, layout)
    out += loop_lines(plan, layout)
    out += basis_lines(plan.provenance, layout)
    return "\n".join([*out, *standing_lines(layout)]) + "\n"


def note_lines(notes: Sequence[str], cautions: Sequence[Caution], layout: Layout) -> list[str]:
    """Remarks on forecast, route and clocks, but those that are cautions too."""
    said = {caution.text.lower().rstrip(".") for caution in cautions}
    left = [note for note in notes if note.lower().rstrip(".") not in said]
    return ["", "Notes", *(wrapped(note, layout.width) for note in left)] if left else []


def odds_lines(plan: PlannedPassage, layout: Layout) -> list[str]:
    """Odds and spread with their source, in sentences; empty without draws or members."""
    words = odds_words(plan)
    return ["", *(paragraph(text, layout.width) for text in words)] if words else []


def tank_lines(plan: PlannedPassage, layout: Layout) -> list[str]:
    """Tanks, GM and trim by leg, where transfers are ordered."""
    headings, rows = tank_table(plan)
    if not rows:
        return []
    last = len(headings) - 3
    columns = [TextColumn(name, 0 if i in (0, last) else 1) for i, name in enumerate(headings)]
    orders = [wrapped(f"{order}.", layout.width) for order in transfer_orders(plan)]
    title = "Tanks as each leg ends, least GM on it, trim since departure (+ by the bow)"
    return ["", "Transfers", *orders, "", title, *fitted(columns, rows, layout)]


def basis_lines(provenance: dict[str, Any], layout: Layout) -> list[str]:
    """Method and estimates with ``--verbose``; else a line that refers to it."""
    methods = [str(line) for line in provenance.get("methods", ())]
    estimated = [str(item) for item in provenance.get("estimated", ())]
    if not layout.verbose:
        count = f"{len(estimated)} values" if len(estimated) != 1 else "1 value"
        words = f"Method, and {count} estimated for want of particulars: --verbose."
        return ["", words if estimated else "Method: --verbose."]
    out = ["", "How it was computed", *(wrapped(line, layout.width) for line in methods)]
    if provenance.get("defaults"):
        out += ["", "Options left at their defaults", *map(str, provenance["defaults"])]
    if estimated:
        out += ["", "Estimated, not given in the vessel file"]
        out += [wrapped(item, layout.width) for item in estimated]
    return out


def loop_lines(plan: PlannedPassage, layout: Layout) -> list[str]:
    """With ``--verbose``, the margins of the fins' control by leg."""
    if not layout.verbose or not plan.fin_loop:
        return []
    words = []
    for row in plan.fin_loop:
        gain, phase = row["gain_margin_db"], row["phase_margin_deg"]
        text = "no gain makes her hunt" if gain is None else f"gain {gain:.1f} dB"
        text += "" if phase is None else f", phase {phase:.0f} deg"
        words.append(f"leg {row['leg']}: {text}")
    return ["", "Margins of the fins' control", wrapped("; ".join(words) + ".", layout.width)]


def _leg_lines(plan: PlannedPassage, layout: Layout) -> list[str]:
    # Where liquid is moved the heel left matters most, so it is always shown.
    moved = any(row["transfers"] for row in plan.tanks)
    names = [
        (name, head, 0 if moved and name == "steady_heel_deg" else rank, means)
        for name, head, rank, means in SCREEN_COLUMNS
    ]
    if plan.provenance.get("options", {}).get("fins") == "centred":
        # The column shows what working fins would do; the plan sails without them.
        means = "mean, if the fins worked; on this plan they do not"
        names = [(*one[:3], means) if one[0] == _ACTIVE else one for one in names]
    if any(leg["coverage"] != "ok" for leg in plan.legs) or layout.wide:
        names.append(("coverage", "coverage", 0, "whether the forecast has a sea there"))
    legs = plan.legs
    zones = zones_shown()
    if zones:
        at = [name for name, *_ in names].index("etd_utc") + 1
        names.insert(at, ("leaves_local", "leaves\nlocal", 0, f"local time, {zones[0]}"))
        legs = tuple(leg | {"leaves_local": _local_time(leg.get("etd_utc"))} for leg in legs)
    columns = [TextColumn(head, rank, name in _LEFT, means) for name, head, rank, means in names]
    rows = [[_leg_cell(name, leg) for name, *_ in names] for leg in legs]
    return fitted(columns, rows, layout)


def _local_time(utc: str | None) -> str | None:
    """``03-14 07:00`` by the clocks of departure, of a time such as 2026-03-14T06:00Z."""
    moment = eta_s(utc)
    return None if moment is None else local_short(moment)


def _leg_cell(name: str, leg: dict[str, Any]) -> str:
    """One cell, marked ``~`` where only part of the leg is known."""
    text = cell(name, leg.get(name))
    if name == "coverage":
        return COVERAGE_WORDS.get(text, text)
    partly = 0.0 < leg.get("known_percent", 100.0) < 100.0
    # Local times are not in the table of names.
    known = BY_NAME.get(name)
    if partly and text != "-" and known is not None and known.how in ("mean", "sum", "worst"):
        return f"~{text}"
    return text


def _member_lines(members: dict[str, Any], width: int) -> list[str]:
    """Spread over the members of an ensemble: 10, 50 and 90 percent."""

    def three(values: Sequence[float | None], decimals: int) -> str:
        return " / ".join("-" if v is None else f"{v:,.{decimals}f}" for v in values)

    headings = ["leg", "Hs m", "roll act sig", "fuel l", "hours"]
    names = ("significant_height_m", "roll_active_significant_deg", "fuel_l", "hours")
    rows = [
        [str(leg["leg"])] + [three(leg[n], BY_NAME[n].decimals) for n in names]
        for leg in members["legs"]
    ]
    count, whole = members["count"], members["whole"]
    text = (
        f"Spread of {f'the {whole} whole of ' if whole < count else ''}{count} members, "
        f"10 / 50 / 90 percent (fuel of the passage {three(members['fuel_l'], 0)} l); "
        f"above is {members['first']}."
    )
    return [
        paragraph(text, width),
        grid(headings, rows, set()),
    ]


_PARTS = (
    ("fuel_still_water_l", "still water"),
    ("fuel_waves_l", "waves"),
    ("fuel_wind_l", "wind"),
    ("fuel_fins_active_l", "fins against roll"),
    ("fuel_fins_offset_l", "fins against heel"),
    ("fuel_list_l", "the heel left"),
    ("fuel_hotel_l", "hotel"),
)


def totals_lines(plan: PlannedPassage, layout: Layout) -> list[str]:
    """What burns the fuel, its price, and what the fins do, in sentences."""
    totals = plan.totals
    parts = [f"{label} {number(totals.get(key))}" for key, label in _PARTS if key in totals]
    known = float(totals.get("known_percent", 100.0))
    about = "" if known >= 100.0 else f"~ {known:.0f} % known, extended; "
    out = [paragraph(f"Fuel in litres: {about}{', '.join(parts)}.", layout.width)]
    if totals.get("fuel_l_per_nm") is not None:
        text = f"{number(totals['fuel_l_per_nm'], 1)} l/nm, {number(totals['fuel_t'], 2)} t of fuel"
        if totals.get("cost") is not None:
            text += f", {number(totals['cost'])} {totals.get('currency', '')}"
        if totals.get("co2_t") is not None:
            text += f", {number(totals['co2_t'], 1)} t of CO2"
        out.append(f"{text}.")
    active = totals.get("fin_hours_active")
    if active is not None:
        out.append(paragraph(fin_words(totals, plan.marks), layout.width))
    return out


def two_digits(value: float) -> float:
    """A number to two significant figures: wear is not known better."""
    return float(f"{value:.2g}")


def fin_words(totals: dict[str, Any], marks: dict[str, Any]) -> str:
    """Hours of the fins by use, and their wear as degrees and turns an hour."""
    text = (
        f"Fins: active {number(totals['fin_hours_active'], 1)} h, at rest "
        f"{number(totals['fin_hours_at_rest'], 1)} h, centred "
        f"{number(totals['fin_hours_centred'], 1)} h"
    )
    at_limit = totals["fin_at_limit_percent"]
    if at_limit is not None and at_limit == at_limit:
        text += f"; at a limit of angle or rate {number(at_limit, 1)} % of the working time"
    text += "."
    hours = totals["fin_hours_active"] + totals["fin_hours_at_rest"]
    travel = totals["fin_travel_deg"]
    if hours > 0.0 and travel == travel and travel > 0.0:
        each = travel / hours
        text += (
            f" Wear: each swings through about {number(two_digits(travel))} deg, or "
            f"{number(two_digits(each / 360.0))} turns an hour"
        )
        fastest = marks.get("fin_max_rate_deg_s")
        if fastest:
            share = 100.0 * each / (3600.0 * fastest)
            text += f", {number(two_digits(share))} % of what their fastest rate could make"
        text += "."
    return text


def plan_csv(plan: PlannedPassage) -> str:
    """All leg variables, a row for each leg; missing values are empty cells."""
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
