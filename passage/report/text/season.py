"""A season as a table for the screen, as CSV and as JSON."""

from __future__ import annotations

import csv
import io
import json
from collections.abc import Sequence
from dataclasses import replace
from typing import Any

from passage.planning.plan.result import plain
from passage.planning.season.departures import COLUMNS
from passage.planning.season.season import SeasonResult
from passage.planning.season.stats import PERCENTILES
from passage.report.text.layout import Layout, TextColumn, fitted, paragraph, wrapped
from passage.report.text.standing import standing_lines
from passage.report.text.verdict import verdict_lines
from passage.report.text.verdict_season import season_verdict

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


_HEADS: tuple[tuple[str, int, str], ...] = (
    ("month", 0, "of leaving"),
    ("departures", 2, ""),
    ("off data", 4, "departures the data do not cover, in no share"),
    ("within %", 0, "departures with every leg within the limits"),
    ("longest wait h", 1, "for such a departure"),
    ("fuel l", 0, ""),
    ("hours", 3, ""),
    ("mean roll", 5, "significant deg, whole passage, fins working"),
    ("worst roll", 0, "significant deg, worst hour, fins working"),
    ("roll, centred", 6, "worst leg, fins held still"),
    ("sick %", 7, "of people new to the sea, worst leg and place"),
    ("fins hold list %", 8, "departures on which that costs less than one transfer"),
)


def season_table(result: SeasonResult, layout: Layout = Layout()) -> str:  # noqa: B008 - frozen
    """Verdict, then a table for each route and speed: a line a month."""
    lines = verdict_lines(season_verdict(result), layout)
    columns = [TextColumn(head, rank, meaning=means) for head, rank, means in _HEADS]
    for at, label in enumerate(result.labels):
        lines += ["", f"{label['route']}, {label['speed_kn']:g} kn"]
        rows = []
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
                    _triple(record["worst_window_roll_significant_deg"], 1),
                    _triple(record["worst_leg_roll_centred_significant_deg"], 1),
                    _triple(record["worst_leg_motion_sickness_percent"], 0),
                    _number(record["fins_cheaper_percent"], 0),
                ]
            )
        last = at == len(result.labels) - 1
        lines += fitted(columns, rows, layout if last else replace(layout, detail="quiet"))
    if not layout.quiet:
        words = (
            "Numbers are medians (10th-90th percentile) of departures. One transfer of liquid: "
            f"{result.transfer.words}."
        )
        lines += ["", paragraph(words, layout.width)]
        lines += [
            wrapped(note[0].upper() + note[1:].removesuffix(".") + ".", layout.width)
            for note in result.notes
        ]
        lines.append(paragraph(ODDS, layout.width))
    return "\n".join([*lines, *standing_lines(layout)]) + "\n"


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
        "verdict": season_verdict(result).as_dict(),
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
