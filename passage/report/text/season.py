"""A season as a table for the screen, as CSV and as JSON."""

from __future__ import annotations

import csv
import io
import json
from collections.abc import Sequence
from typing import Any

from passage.planning.plan.result import plain
from passage.planning.season.departures import COLUMNS
from passage.planning.season.season import SeasonResult
from passage.planning.season.stats import PERCENTILES

SEASON_SCHEMA_VERSION = "1.0"
MONTHS = (
    "year", "Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec",
)  # fmt: skip
#: Said with every answer.
ODDS = (
    "Shares of past departures, not a forecast: use them to choose a season and a route, and a "
    "forecast to choose the day. Decision support only; the master decides."
)
#: Record keys that are plain numbers or words, in order.
PLAIN_KEYS: tuple[str, ...] = (
    "departures",
    "covered",
    "off_data",
    "judged",
    "within_limits",
    "within_limits_percent",
    "longest_wait_h",
    "longest_wait_open",
    "fins_cheaper_percent",
)


def _number(value: float | None, decimals: int) -> str:
    return "-" if value is None or value != value else f"{value:.{decimals}f}"


def _triple(percentiles: Sequence[float] | None, decimals: int) -> str:
    """Median with the 10th and 90th percentile."""
    if percentiles is None:
        return "-"
    low, middle, high = percentiles[0], percentiles[2], percentiles[4]
    return f"{middle:.{decimals}f} ({low:.{decimals}f}-{high:.{decimals}f})"


def wait_text(record: dict[str, Any]) -> str:
    """Longest wait in hours, "over" where its end is not known."""
    wait = record["longest_wait_h"]
    if wait is None:
        return "-"
    return f"{'over ' if record['longest_wait_open'] else ''}{wait:.0f}"


def season_table(result: SeasonResult) -> str:
    """A table for each route and speed: a line a month, median (10th-90th percentile)."""
    heads = (
        "month", "departures", "off data", "within %", "longest wait h", "fuel l", "hours",
        "mean roll act", "worst leg act", "worst leg ctr", "sick %", "fins cheaper %",
    )  # fmt: skip
    lines: list[str] = []
    for label in result.labels:
        lines += ["", f"{label['route']}, {label['speed_kn']:g} kn"]
        rows = [list(heads)]
        for record in result.records:
            if any(record[key] != label[key] for key in label):
                continue
            rows.append(
                [
                    MONTHS[record["month"]],
                    str(record["departures"]),
                    str(record["off_data"]),
                    _number(record["within_limits_percent"], 0),
                    wait_text(record),
                    _triple(record["fuel_l"], 0),
                    _triple(record["hours"], 1),
                    _triple(record["mean_roll_active_significant_deg"], 1),
                    _triple(record["worst_leg_roll_active_significant_deg"], 1),
                    _triple(record["worst_leg_roll_centred_significant_deg"], 1),
                    _triple(record["worst_leg_motion_sickness_percent"], 0),
                    _number(record["fins_cheaper_percent"], 0),
                ]
            )
        widths = [max(len(row[i]) for row in rows) for i in range(len(heads))]
        lines += ["  ".join(c.rjust(w) for c, w in zip(row, widths, strict=True)) for row in rows]
    lines += [
        "",
        "Median (10th-90th percentile) of departures; roll is significant single amplitude in "
        "degrees, act with the fins working, ctr with them centred.",
        f"Transfer: {result.transfer.words}.",
        *(f"Note: {note}." for note in result.notes),
        ODDS,
    ]
    return "\n".join(lines).lstrip("\n") + "\n"


def season_csv(result: SeasonResult) -> str:
    """Statistics as CSV: a line for each route, speed and month (0: all year)."""
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\n")
    names = [f"{c.name}_p{p}" for c in COLUMNS for p in PERCENTILES]
    writer.writerow(["route", "speed_kn", "month", *PLAIN_KEYS, *names])
    for record in result.records:
        row = [record["route"], record["speed_kn"], record["month"]]
        row += ["" if record[k] is None else _csv(record[k]) for k in PLAIN_KEYS]
        for column in COLUMNS:
            values = record[column.name] or [None] * len(PERCENTILES)
            row += ["" if v is None else f"{v:.7g}" for v in values]
        writer.writerow(row)
    return out.getvalue()


def _csv(value: Any) -> Any:
    if isinstance(value, bool):
        return "yes" if value else "no"
    return f"{value:.7g}" if isinstance(value, float) else value


def season_dict(result: SeasonResult) -> dict[str, Any]:
    """Statistics and provenance as plain dicts and lists."""
    return {
        "schema_version": SEASON_SCHEMA_VERSION,
        "percentiles": list(PERCENTILES),
        "provenance": plain(result.provenance),
        "transfer": {"litres": plain(result.transfer.litres), "words": result.transfer.words},
        "bad_blocks": [
            {"block": number, "reason": why} for number, why in sorted(result.report.bad.items())
        ],
        "columns": [{"name": c.name, "unit": c.unit, "meaning": c.meaning} for c in COLUMNS],
        "statistics": [plain(record) for record in result.records],
        "notes": list(result.notes),
        "caution": ODDS,
    }


def season_json(result: SeasonResult) -> str:
    """The same as JSON text; ``null`` for missing."""
    return json.dumps(season_dict(result), indent=1, ensure_ascii=False, allow_nan=False) + "\n"
