"""Blocks of a page made from one plan: figures, strips, leg table, cautions, sources."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import numpy as np
import numpy.typing as npt

from passage.planning.plan.result import PlannedPassage
from passage.report.drawing.blocks import (
    Chart,
    Column,
    Facts,
    Note,
    Notes,
    Table,
)
from passage.report.drawing.charts_parts import Span
from passage.report.drawing.charts_strip import (
    fin_strip,
    fuel_strip,
    gap_spans,
    leg_spans,
    period_strip,
    roll_strip,
    sea_strip,
)
from passage.report.text.clocks import local_cell, zones_shown
from passage.report.text.standing import grouped
from passage.report.text.verdict import eta_s, legs_words
from passage.units import HOUR_S
from passage.variables import BY_NAME

#: Units as people read them.
UNITS = {
    "L": "l",
    "degree": "deg",
    "percent": "%",
    "hour": "h",
    "1": "g",
    "m": "m",
    "s": "s",
    "nautical_mile": "nm",
    "knot": "kn",
    "degree hour-1": "deg/h",
    "hour-1": "an hour",
    "minute-1": "a min",
    "N": "N",
}
#: The two leg tables of the page: what decides, then the rest. Files have every variable.
LEG_COLUMNS: tuple[str, ...] = (
    "leg",
    "to",
    "etd_utc",
    "hours",
    "distance_nm",
    "significant_height_m",
    "encounter_angle_deg",
    "encounter_side",
    "window_roll_significant_deg",
    "roll_centred_significant_deg",
    "roll_active_significant_deg",
    "fuel_l",
    "motion_sickness_percent",
)
MORE_COLUMNS: tuple[str, ...] = (
    "leg",
    "course_true_deg",
    "course_to_steer_deg",
    "speed_through_water_kn",
    "speed_over_ground_kn",
    "wave_from_deg",
    "encounter_period_s",
    "fin_use",
    "fin_at_limit_percent",
    "steady_heel_deg",
    "fin_offset_deg",
    "fuel_waves_l",
    "fuel_fins_active_l",
    "fuel_fins_offset_l",
    "lateral_acceleration_rms_g",
    "vertical_acceleration_rms_g",
    "coverage",
)
_PARTS = (
    ("still water", "fuel_still_water_l"),
    ("hotel", "fuel_hotel_l"),
    ("waves", "fuel_waves_l"),
    ("wind", "fuel_wind_l"),
    ("fins active", "fuel_fins_active_l"),
    ("fins offset", "fuel_fins_offset_l"),
    ("list", "fuel_list_l"),
)
_SEVERITY = {"warning": "limit", "caution": "caution", "note": "note"}


def short_time(text: str | None) -> str | None:
    """``2026-03-14T06:00Z`` as ``14 Mar 06:00``."""
    if text is None:
        return None
    months = ["Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec"]
    return f"{int(text[8:10])} {months[int(text[5:7]) - 1]} {text[11:16]}"


#: Columns of times that may have a column of local times beside them.
_TIMES = {"etd_utc": "leaves", "eta_utc": "arrives"}


def local_heads(verb: str | None) -> list[Column]:
    """The column of local times after one in UTC; empty where no zone is asked for."""
    if verb is None or not zones_shown():
        return []
    zone = zones_shown()[0 if verb == "leaves" else -1]
    return [Column(f"{verb} local", "", None, f"local time, {zone}")]


def _number(value: Any) -> float:
    return np.nan if value is None else float(value)


def felt_key(plan: PlannedPassage) -> str:
    """Leg key of the roll with the fins as used."""
    fins = plan.provenance.get("options", {}).get("fins", "active")
    return f"roll_{'active' if fins == 'active' else 'centred'}_significant_deg"


def leg_ends_s(plan: PlannedPassage) -> npt.NDArray[np.float64]:
    """Departure and the end of every leg, (legs + 1,); NaN from an unknown leg on. [s]"""
    hours = np.array([_number(leg["hours"]) for leg in plan.legs])
    return plan.departure_s + np.r_[0.0, np.cumsum(hours) * HOUR_S]


def plan_spans(plan: PlannedPassage) -> list[Span]:
    """Legs, stays and times without forecast, for the strips."""
    ends = leg_ends_s(plan)
    fine = np.isfinite(ends[1:])
    stays = [leg["type"] == "stay" for leg, ok in zip(plan.legs, fine, strict=True) if ok]
    spans = leg_spans(ends[:-1][fine], ends[1:][fine], stays)
    times = np.asarray(plan.points["time_s"], dtype=float)
    ok = np.isfinite(times)
    known = np.isfinite(np.asarray(plan.points["significant_height_m"], dtype=float))
    return spans + gap_spans(times[ok], known[ok]) if ok.any() else spans


def plan_strips(plan: PlannedPassage, key: str = "plan") -> list[Chart]:
    """Sea, periods, roll, fins and fuel along the passage."""
    every, marks = plan.points, plan.marks
    time_s = np.asarray(every["time_s"], dtype=float)
    ok = np.isfinite(time_s)
    if not ok.any():
        return []
    times, spans = time_s[ok], plan_spans(plan)

    def at(name: str) -> npt.NDArray[np.float64]:
        return np.asarray(every[name], dtype=float)[ok]

    fans = marks.get("fans") or {}

    def fan(name: str) -> tuple[npt.NDArray[np.float64], npt.NDArray[np.float64]] | None:
        if name not in fans:
            return None
        low, high = (np.asarray(end, dtype=float)[ok] for end in fans[name])
        return low, high

    systems = {name: np.asarray(v)[ok] for name, v in marks.get("systems", {}).items()}
    systems = {name: v for name, v in systems.items() if np.any(np.isfinite(v))}
    wind = at("wind_speed_kn")
    strips = [
        sea_strip(
            times,
            at("significant_height_m"),
            systems if len(systems) > 1 else None,
            wind_kn=wind if np.any(np.isfinite(wind)) else None,
            fan_m=fan("significant_height_m"),
            spans=spans,
            key=f"{key}-sea",
        ),
        period_strip(
            times,
            at("encounter_period_s"),
            float(np.nanmax(at("natural_roll_period_s"))),
            spans=spans,
            key=f"{key}-period",
        ),
        roll_strip(
            times,
            at("roll_centred_significant_deg"),
            at("roll_active_significant_deg"),
            marks.get("roll_limit_deg"),
            low_deg=2.0 * at("roll_active_low_rms_deg") if "roll_active_low_rms_deg" in every
            and felt_key(plan).startswith("roll_active") else None,
            high_deg=2.0 * at("roll_active_high_rms_deg") if "roll_active_high_rms_deg" in every
            and felt_key(plan).startswith("roll_active") else None,
            fan_deg=fan("roll_significant_deg"),
            spans=spans,
            key=f"{key}-roll",
        ),
    ]  # fmt: skip
    if marks.get("fin_max_angle_deg") is not None:
        strips.append(
            fin_strip(
                times,
                at("fin_angle_rms_deg"),
                at("fin_at_limit_percent"),
                marks["fin_max_angle_deg"],
                offset_deg=at("fin_offset_deg"),
                spans=spans,
                key=f"{key}-fins",
            )
        )
    ends = leg_ends_s(plan)
    fine = np.isfinite(ends[1:])
    if fine.any():
        rows = [leg for leg, good in zip(plan.legs, fine, strict=True) if good]
        parts = {w: np.array([_number(leg[k]) for leg in rows]) for w, k in _PARTS}
        # A part that is zero on every leg is left out of the key.
        parts = {w: v for w, v in parts.items() if np.any(np.nan_to_num(np.abs(v)) >= 0.5)}
        names = [f"{leg['leg']} {leg['from']} to {leg['to']}" for leg in rows]
        strips.append(
            fuel_strip(
                ends[:-1][fine], ends[1:][fine], parts, names, spans=spans, key=f"{key}-fuel"
            )
        )
    return strips


def _unit(name: str) -> str:
    """Unit under a heading, empty where the heading already names it."""
    variable = BY_NAME[name]
    unit = "UTC" if name.endswith("_utc") else UNITS.get(variable.unit, variable.unit)
    return "" if name in ("hours", "distance_nm") else unit


def leg_table_blocks(plan: PlannedPassage, caption: str) -> list[Table]:
    """The leg table with totals, in two tables that fit a window."""
    more = f"{caption}: course, fins and accelerations"
    return [_legs(plan, LEG_COLUMNS, caption), _legs(plan, MORE_COLUMNS, more)]


def _partly_known(plan: PlannedPassage) -> str:
    """A sentence for the caption where figures are known on part of a leg only."""
    shares = {leg["leg"]: leg.get("known_percent", 100.0) for leg in plan.legs}
    known = [f"leg {leg} {share:.0f} %" for leg, share in shares.items() if 0.0 < share < 100.0]
    if not known:
        return ""
    return (
        f" ~ Not known in full ({', '.join(known)} known): there the means are of the known part, "
        "and sums are extended from it or left out."
    )


def _legs(plan: PlannedPassage, names: Sequence[str], caption: str) -> Table:
    caption += _partly_known(plan)
    columns: list[Column] = []
    for name in names:
        columns.append(
            Column(
                BY_NAME[name].heading,
                _unit(name),
                None if name == "leg" else BY_NAME[name].decimals,
                BY_NAME[name].meaning,
            )
        )
        columns += local_heads(_TIMES.get(name))
    rows: list[list[object]] = []
    for leg in plan.legs:
        row: list[object] = []
        for name in names:
            value = leg.get(name)
            row.append(short_time(value) if name.endswith("_utc") else value)
            if name in _TIMES:
                row += local_cell(_number(eta_s(value)), arriving=_TIMES[name] == "arrives")
        rows.append(row)
    totals = {name: plan.totals.get(name) for name in ("hours", "distance_nm", "fuel_l")}
    sums: list[object] = ["all"]
    for name in names[1:]:
        sums += [totals.get(name), *(None for _ in local_heads(_TIMES.get(name)))]
    summed = bool(set(totals) & set(names))
    return Table(columns, rows, caption=caption, sums=sums if summed else None)


def caution_notes(plan: PlannedPassage, title: str = "") -> Notes:
    """The plan's cautions by leg, worst first; standing ones are at the foot of the page."""
    items = []
    for legs, cautions in grouped(plan.cautions):
        for caution in cautions:
            text = caution.text[:1].upper() + caution.text[1:]
            where = legs_words(legs) if legs else ""
            items.append(Note(text, _SEVERITY.get(caution.severity, "note"), where))
    return Notes(items or ["None beyond those at the foot of the page."], title)


def source_blocks(provenance: dict[str, Any], notes: Sequence[str] = ()) -> list[Facts | Notes]:
    """Forecast files, vessel file, methods, estimates and remarks."""
    facts: list[tuple[str, object]] = []
    for source in provenance.get("forecasts", []):
        run = source.get("run_utc") or "not given"
        facts.append(
            (
                f"forecast {source['file']}",
                f"{source.get('producer') or 'producer not given'}; run {run}; "
                f"{source['first_utc']} to {source['last_utc']}; "
                f"SHA-256 {source['sha256'][:16]} ({source['hashed']})",
            )
        )
    if provenance.get("vessel_file"):
        digest = str(provenance.get("vessel_sha256", ""))[:16]
        facts.append(("vessel file", f"{provenance['vessel_file']}; SHA-256 {digest}"))
    blocks: list[Facts | Notes] = [Facts(facts, "Sources")]
    blocks.append(Notes(list(provenance.get("methods", [])), "Methods"))
    if provenance.get("estimated"):
        blocks.append(
            Notes(list(provenance["estimated"]), "Estimated, not given in the vessel file")
        )
    if notes:
        blocks.append(Notes(list(notes), "Remarks on forecast and route"))
    return blocks
