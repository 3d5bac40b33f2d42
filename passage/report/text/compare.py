"""A comparison as a table for the screen, as CSV and as JSON."""

from __future__ import annotations

import csv
import io
import json
from dataclasses import replace
from datetime import UTC, datetime
from typing import Any

import numpy as np

from passage import __version__
from passage.planning.compare.choice import UNKNOWN, WHY, why_words
from passage.planning.compare.compare import Comparison
from passage.planning.plan.cautions import STANDING
from passage.planning.plan.result import SCHEMA_VERSION, plain
from passage.report.files.plan_json import plan_dict
from passage.report.text.clocks import local_cell, local_column
from passage.report.text.compare_columns import (
    known_words,
    names_of,
    record,
    records,
    total_columns,
)
from passage.report.text.compare_odds import (
    certainty_lines,
    certainty_rows,
    odds_lead,
    odds_text,
    source_words,
)
from passage.report.text.layout import Layout, TextColumn, fitted, paragraph, wrapped
from passage.report.text.plan import basis_lines, note_lines
from passage.report.text.standing import caution_lines, standing_lines, title_line
from passage.report.text.verdict import verdict_lines
from passage.report.text.verdict_compare import compare_verdict
from passage.units import utc_text

#: Totals on the screen: key, rank (the highest is left out first to fit), meaning.
_SCREEN: tuple[tuple[str, int, str], ...] = (
    ("hours", 4, ""),
    ("fuel_l", 0, "litres"),
    ("worst_window_roll_significant_deg", 0, "significant deg, worst hour"),
    ("odds_asked_percent", 0, "% of draws or members that keep what is asked"),
    ("mean_roll_significant_deg", 6, "of the whole passage"),
    ("hours_over_roll_limit", 5, ""),
    ("worst_leg_motion_sickness_percent", 2, "% of people new to the sea, worst leg and place"),
    ("worst_leg_significant_height_m", 7, "largest significant wave height of a leg, m"),
    ("limit_share", 3, "largest value over its limit, above 1 is over"),
)
#: Rows on the screen beyond the best trade-offs; files have all.
_MOST_ROWS = 8
#: State of a combination that nothing rules out.
ALLOWED = "allowed"


def answer(found: Comparison) -> list[str]:
    """The named combinations, a sentence each."""
    measure = found.options.measure
    lines = []
    for name, index in found.names.items():
        cell = found.cell_of(index)
        rough = found.comfort[index]
        lines.append(
            f"{name[0].upper()}{name[1:]}: no. {index + 1}, {found.routes[cell.route].name}, "
            f"{found.label(index)}: {found.totals['fuel_l'][index]:,.0f} l, {measure.heading} "
            f"{rough:,.{measure.decimals}f} {measure.unit}."
        )
    return lines


def allowed_words(found: Comparison) -> list[str]:
    """State of a combination that nothing rules out; empty without limits and constraints."""
    return [ALLOWED] if found.judges else []


def state_words(found: Comparison, index: int, names: dict[int, list[str]]) -> str:
    """The names of a combination and whether anything rules it out."""
    words = list(names.get(index, ()))
    if index == found.chosen:
        words.insert(0, "chosen")
    why = [
        f"{one} ({known_words(found, index)})" if one == WHY[UNKNOWN] else one
        for one in why_words(int(found.closed[index]))
    ]
    return ", ".join([*words, *(why or allowed_words(found))]) or "-"


def compare_table(found: Comparison, layout: Layout = Layout()) -> str:  # noqa: B008 - frozen
    """The comparison for the screen: verdict, best trade-offs, others, reasons, cautions."""
    totals = {column.key: column for column in total_columns(found)}
    names = names_of(found)
    columns = [
        TextColumn("no"), TextColumn("route", 0, True), TextColumn("leaves UTC", 0, True),
        *local_column("leaves"), TextColumn("speed", 0, True),
        TextColumn("fins", 1 if len(found.options.fins) > 1 else 9, True),
        TextColumn("arrives", 8, True),
        *local_column("arrives"),
    ]  # fmt: skip
    # Columns without any value, such as shares of limits that are not set, are left out.
    shown_of = found.totals | {"fuel_l": found.totals["fuel_extended_l"]}
    screen = [one for one in _SCREEN if one[0] in totals and np.any(np.isfinite(shown_of[one[0]]))]
    columns += [TextColumn(totals[key].heading, rank, meaning=of) for key, rank, of in screen]
    columns.append(TextColumn("state", 0, True))

    def row(index: int) -> list[str]:
        cell = found.cell_of(index)
        eta = found.totals["eta_s"][index]
        cells = [
            str(index + 1),
            found.routes[cell.route].name,
            utc_text(found.departure_s[index])[5:-1].replace("T", " "),
            *local_cell(found.departure_s[index]),
            cell.speed_text,
            cell.fins,
            utc_text(eta)[5:-1].replace("T", " ") if eta == eta else "-",
            *local_cell(eta, arriving=True),
        ]
        for key, *_ in screen:
            value = shown_of[key][index]
            if key == "odds_asked_percent":
                cells.append(odds_text(found, index).replace("over ", ">").replace("under ", "<"))
                continue
            about = "~" if value == value and np.isnan(found.totals[key][index]) else ""
            cells.append("-" if value != value else f"{about}{value:,.{totals[key].decimals}f}")
        return [*cells, state_words(found, index, names)]

    front = [int(i) for i in found.front_order()]
    lead = found.plans.get(found.chosen) if found.chosen is not None else None
    title = f"{found.vessel.name}: {', '.join(route.name for route in found.routes)}"
    out = [title_line(title, () if lead is None else lead.cautions, layout), ""]
    out += verdict_lines(compare_verdict(found), layout)
    what = "allowed " if found.judges else ""
    what = what if found.front_open else "covered "
    head = (
        f"Best trade-offs: no {what}combination takes less fuel and has less "
        f"{found.options.measure.heading} at once"
    )
    out += ["", *paragraph(head, layout.width).split("\n")]
    out += fitted(columns, [row(i) for i in front], layout) if front else ["none"]
    if found.odds is not None:
        about = odds_lead(found)
        lines = certainty_lines(found, about)
        what = "what is asked" if found.chosen is not None else "what is asked, beside the nearest"
        out += ["", f"Least fuel by odds to keep {what}",
                *(wrapped(line, layout.width) for line in lines),
                *paragraph(source_words(found, about), layout.width).split("\n")]  # fmt: skip
    if layout.quiet:
        return "\n".join([*out, *standing_lines(layout)]) + "\n"
    other = [i for i in range(len(found)) if i not in set(front)]
    other.sort(key=lambda i: (found.closed[i] != 0, _last(float(found.totals["fuel_l"][i]))))
    if other:
        shown = other if layout.wide else other[:_MOST_ROWS]
        more = "" if len(shown) == len(other) else f" ({len(shown)} of {len(other)}; csv has all)"
        first = " allowed ones first," if found.judges else ""
        out += ["", f"Others,{first} by fuel{more}"]
        out += fitted(columns, [row(i) for i in shown], replace(layout, detail="quiet"))
    if found.exclusions:
        out += ["", "What rules combinations out"]
        for why in found.exclusions:
            out += [f"{why.of}:", *(wrapped(line, layout.width) for line in why.brief)]
    cautions = caution_lines(lead.cautions, layout) if lead is not None else []
    if cautions:
        out += ["", "Cautions for the chosen one, worst first (! a warning)", *cautions]
    out += note_lines(found.notes, lead.cautions if lead is not None else (), layout)
    out += basis_lines(found.provenance, layout)
    return "\n".join([*out, *standing_lines(layout)]) + "\n"


def _last(value: float) -> float:
    return float("inf") if value != value else float(value)


def compare_csv(found: Comparison) -> str:
    """A row for each combination; missing values are empty, lists joined by semicolons."""
    rows = records(found)
    buffer = io.StringIO()
    writer = csv.writer(buffer, lineterminator="\n")
    writer.writerow(rows[0])
    for row in rows:
        writer.writerow([_csv_value(value) for value in row.values()])
    return buffer.getvalue()


def _csv_value(value: Any) -> Any:
    if value is None:
        return ""
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, list):
        return "; ".join(str(item) for item in value)
    if isinstance(value, float):
        return f"{value:.10g}"
    return value


def compare_dict(found: Comparison) -> dict[str, Any]:
    """The comparison as plain dicts, lists, strings, numbers and None."""
    options, measure = found.options, found.options.measure
    names = names_of(found)
    return {
        "schema_version": SCHEMA_VERSION,
        "passage_version": __version__,
        "created_utc": datetime.now(UTC).strftime("%Y-%m-%dT%H:%MZ"),
        "verdict": compare_verdict(found).as_dict(),
        "vessel": found.vessel.name,
        "routes": [
            {"name": route.name, "file": route.path, "legs": [leg.label for leg in route.legs]}
            for route in found.routes
        ],
        "comfort": {
            "measure": options.comfort,
            "key": measure.key,
            "meaning": measure.meaning,
            "unit": measure.unit,
        },
        "constraints": {
            "arrive_by_utc": None if options.arrive_by_s is None else utc_text(options.arrive_by_s),
            "daylight_arrival": options.daylight,
            "comfort_budget": options.budget,
            "over_land_allowed": options.allow_land,
        },
        "odds": _odds_dict(found),
        "provenance": plain(found.provenance),
        "answer": answer(found),
        "names": {name: index + 1 for name, index in found.names.items()},
        "chosen": None if found.chosen is None else found.chosen + 1,
        "front": [int(i) + 1 for i in found.front_order()],
        "front_is_open": found.front_open,
        "combinations": [record(found, index, names) for index in range(len(found))],
        "exclusions": [
            {"of": why.of, "why": list(why.lines), "brief": list(why.brief)}
            for why in found.exclusions
        ],
        "plans": [
            {"number": index + 1, **plan_dict(plan, track=False)}
            for index, plan in found.plans.items()
        ],
        "cautions": [{"code": code, "severity": "note", "text": text} for code, text in STANDING],
        "notes": list(found.notes),
    }


def _odds_dict(found: Comparison) -> dict[str, Any] | None:
    """Where odds come from, what is asked, and what certainty costs; None without odds."""
    if found.odds is None:
        return None
    lead = odds_lead(found)
    return {
        "asked_percent": found.options.odds,
        "draws": found.odds.draws,
        "source": found.odds.source(float(found.departure_s[lead])),
        "certainty": certainty_rows(found, lead),
    }


def compare_json(found: Comparison) -> str:
    """The comparison as JSON text."""
    return json.dumps(compare_dict(found), indent=1, ensure_ascii=False, allow_nan=False) + "\n"
