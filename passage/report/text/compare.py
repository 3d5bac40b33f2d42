"""A comparison as a table for the screen, as CSV and as JSON."""

from __future__ import annotations

import csv
import io
import json
from datetime import UTC, datetime
from typing import Any

from passage import __version__
from passage.planning.compare.choice import why_words
from passage.planning.compare.compare import Comparison
from passage.planning.plan.cautions import STANDING
from passage.planning.plan.result import SCHEMA_VERSION, plain
from passage.report.files.plan_json import plan_dict
from passage.report.text.compare_columns import names_of, record, records, total_columns
from passage.report.text.plan import grid, wrapped
from passage.units import utc_text

#: Totals on the screen.
_SCREEN = (
    "hours",
    "fuel_l",
    "worst_leg_roll_significant_deg",
    "mean_roll_significant_deg",
    "hours_over_roll_limit",
    "worst_leg_motion_sickness_percent",
    "worst_leg_significant_height_m",
    "limit_share",
)
#: Rows of closed combinations shown on the screen; files have them all.
_MOST_ROWS = 24


def answer(found: Comparison) -> list[str]:
    """The answer in sentences: what is open, what is named, what was chosen."""
    measure = found.options.measure
    count, total = int(found.open.sum()), len(found)
    lines = []
    if found.front_open:
        lines.append(f"{count} of {total} combinations are open.")
    elif found.names:
        lines.append(
            f"None of {total} combinations is open; named below are the best of those that the "
            "forecast covers, each over a limit or constraint."
        )
    else:
        lines.append(f"None of {total} combinations is open, and none is covered from end to end.")
    for name, index in found.names.items():
        cell = found.cell_of(index)
        rough = found.comfort[index]
        lines.append(
            f"{name[0].upper()}{name[1:]}: no. {index + 1}, {found.routes[cell.route].name}, "
            f"{found.label(index)}: {found.totals['fuel_l'][index]:.0f} l, {measure.heading} "
            f"{rough:.{measure.decimals}f} {measure.unit}."
        )
    return lines


def compare_table(found: Comparison) -> str:
    """The comparison for the screen: answer, front, the rest, exclusions, cautions."""
    columns = {column.key: column for column in total_columns(found)}
    names = names_of(found)
    headings = ["no", "route", "leaves UTC", "speed", "fins", "arrives"]
    headings += [columns[key].heading for key in _SCREEN] + ["state"]

    def row(index: int) -> list[str]:
        cell = found.cell_of(index)
        eta = found.totals["eta_s"][index]
        cells = [
            str(index + 1),
            found.routes[cell.route].name,
            utc_text(found.departure_s[index])[5:-1].replace("T", " "),
            cell.speed_text,
            cell.fins,
            utc_text(eta)[5:-1].replace("T", " ") if eta == eta else "-",
        ]
        for key in _SCREEN:
            value = found.totals[key][index]
            cells.append("-" if value != value else f"{value:.{columns[key].decimals}f}")
        state = ", ".join(names.get(index, ())) or ", ".join(why_words(int(found.closed[index])))
        return [*cells, state or "open"]

    left = {1, 3, 4, len(headings) - 1}
    front = [int(i) for i in found.front_order()]
    out = [f"{found.vessel.name}: {', '.join(route.name for route in found.routes)}", ""]
    out += answer(found)
    what = "open" if found.front_open else "covered"
    out += ["", f"The front: {what} combinations that no other betters in fuel and "
            f"{found.options.measure.heading} at once"]  # fmt: skip
    out += [grid(headings, [row(i) for i in front], left)] if front else ["none"]
    other = [i for i in range(len(found)) if i not in set(front)]
    other.sort(key=lambda i: (found.closed[i] != 0, _last(float(found.totals["fuel_l"][i]))))
    if other:
        shown = other[:_MOST_ROWS]
        out += ["", f"Others, by fuel ({len(shown)} of {len(other)} shown; csv and json have all)"]
        out += [grid(headings, [row(i) for i in shown], left)]
    if found.exclusions:
        out += ["", "What closes combinations"]
        for why in found.exclusions:
            out += [f"{why.of}:", *(wrapped(line) for line in why.brief)]
    if found.notes:
        out += ["", "Remarks"]
        out += [wrapped(note) for note in found.notes]
    out += ["", "Cautions"]
    out += [wrapped(text) for _, text in STANDING]
    return "\n".join(out) + "\n"


def _last(value: float) -> float:
    return float("inf") if value != value else float(value)


def compare_csv(found: Comparison) -> str:
    """One row a combination; missing values are empty, lists are joined by blanks."""
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
        "plans": [{"number": index + 1, **plan_dict(plan)} for index, plan in found.plans.items()],
        "cautions": [{"code": code, "severity": "note", "text": text} for code, text in STANDING],
        "notes": list(found.notes),
    }


def compare_json(found: Comparison) -> str:
    """The comparison as JSON text."""
    return json.dumps(compare_dict(found), indent=1, ensure_ascii=False, allow_nan=False) + "\n"
