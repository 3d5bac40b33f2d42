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
from passage.planning.voyage.limits import LIMIT_KEYS, LIMIT_WORDS
from passage.report.text.layout import Layout, TextColumn, fitted, paragraph, wrapped
from passage.report.text.season_list import ROWS, basis, headline, heads, row, standing_dict
from passage.report.text.season_rank import (
    MONTHS,
    closing_rows,
    closing_text,
    interval_text,
    legs_of,
    need_lines,
    rank_lines,
    share_text,
    sure_words,
    where_lines,
    where_rows,
    years_text,
)
from passage.report.text.standing import standing_lines
from passage.report.text.verdict import listed, verdict_lines
from passage.report.text.verdict_season import best_of, season_verdict

SEASON_SCHEMA_VERSION = "1.0"
#: Printed with every answer.
ODDS = (
    "Shares of past departures, not a forecast: use them to choose a season and a route, and a "
    "forecast to choose the day. Decision support only; the master decides."
)
#: Ranks of the columns of the ways with a list: the highest is left out first to fit.
_RANKS = {"heel left deg": 1, "fin travel deg": 2, "mean within l": 3}
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
    "spells",
    "spell_h",
    "few",
    "within_low_percent",
    "within_high_percent",
    "year_lowest_percent",
    "year_highest_percent",
    "fins_at_limit_share_percent",
    "slamming_share_percent",
    "tank_fuel_l",
)
#: Columns of the CSV: departures over each limit, and over that limit alone. [%]
_CLOSED = (
    "closed_percent", "closed_alone_percent", "closed_under_way_percent", "closed_at_rest_percent",
)  # fmt: skip


def _number(value: float | None, decimals: int) -> str:
    return "-" if value is None or value != value else f"{value:,.{decimals}f}"


def _triple(percentiles: Sequence[float] | None, decimals: int) -> str:
    """Median with the 10th and 90th percentile."""
    if percentiles is None:
        return "-"
    low, middle, high = percentiles[0], percentiles[2], percentiles[4]
    return f"{middle:,.{decimals}f} ({low:,.{decimals}f}-{high:,.{decimals}f})"


def wait_text(record: dict[str, Any]) -> str:
    """Longest wait in hours, "over" where its end is not known."""
    wait = record["longest_wait_h"]
    if wait is None:
        return "-"
    return f"{'over ' if record['longest_wait_open'] else ''}{wait:.0f}"


_HEADS: tuple[tuple[str, int, str], ...] = (
    ("month", 0, "of leaving"),
    ("departures", 3, ""),
    ("off data", 5, "departures the data do not cover, in no share"),
    ("within %", 0, "departures with every leg within the limits"),
    ("interval", 1, "90 % interval of that share"),
    ("years", 3, "that share in the worst and the best year"),
    ("ruled out most by %", 4, "the limit that breaks on most departures"),
    ("longest wait h", 2, "for such a departure"),
    ("fuel l", 0, ""),
    ("hours", 4, ""),
    ("mean roll", 6, "significant deg, whole passage, fins working"),
    ("worst roll", 0, "significant deg, worst hour, fins working"),
    ("roll, centred", 7, "worst leg, fins held still"),
    ("sick %", 8, "of people new to the sea, worst leg and place"),
    ("fins hold list %", 9, "departures on which that costs less than one transfer"),
)
#: Columns left out where no limit is set.
_OF_LIMITS = ("within %", "interval", "years", "ruled out most by %", "longest wait h")


def season_table(result: SeasonResult, layout: Layout = Layout()) -> str:  # noqa: B008 - frozen
    """Verdict, then a table for each route and speed, with a line for each month."""
    lines = verdict_lines(season_verdict(result), layout)
    lines += standing_lists(result, layout)
    judged = result.provenance.get("limits_set", True)
    shown = [i for i, head in enumerate(_HEADS) if judged or head[0] not in _OF_LIMITS]
    columns = [TextColumn(*_HEADS[i][:2], meaning=_HEADS[i][2]) for i in shown]
    for at, label in enumerate(result.labels):
        lines += ["", f"{label['route']}, {label['speed_kn']:g} kn"]
        rows, bare = [], []
        for record in result.records:
            if any(record[key] != label[key] for key in label):
                continue
            if record["month"] and not record["covered"]:
                bare.append(MONTHS[record["month"]])
                continue
            cells = (
                MONTHS[record["month"]],
                f"{record['departures']:,}",
                str(record["off_data"]),
                share_text(record["within_limits_percent"], record["few"]),
                interval_text(record),
                years_text(record),
                closing_text(record),
                wait_text(record),
                _triple(record["fuel_l"], 0),
                _triple(record["hours"], 1),
                _triple(record["mean_roll_active_significant_deg"], 1),
                _triple(record["worst_window_roll_significant_deg"], 1),
                _triple(record["worst_leg_roll_centred_significant_deg"], 1),
                _triple(record["worst_leg_motion_sickness_percent"], 0),
                _number(record["fins_cheaper_percent"], 0),
            )
            rows.append([cells[i] for i in shown])
        last = at == len(result.labels) - 1
        lines += fitted(columns, rows, layout if last else replace(layout, detail="quiet"))
        if bare:
            words = f"No departure is covered by the data in {listed(bare)}."
            lines.append(paragraph(words, layout.width))
    if not layout.quiet:
        lines += lead_lines(result, layout)
        words = (
            "Numbers are medians (10th-90th percentile) of departures. One transfer of liquid: "
            f"{result.transfer.words}."
        )
        lines += ["", paragraph(words, layout.width)]
        if judged:
            lines.append(paragraph(sure_words(result), layout.width))
        lines += [
            wrapped(note[0].upper() + note[1:].removesuffix(".") + ".", layout.width)
            for note in result.notes
        ]
        lines.append(paragraph(ODDS, layout.width))
    return "\n".join([*lines, *standing_lines(layout)]) + "\n"


def standing_lists(result: SeasonResult, layout: Layout, vessel: str = "") -> list[str]:
    """The cost of living with each list: a sentence and a table for each.

    ``vessel`` is named in the heading where there are several.
    """
    standing = result.standing
    if standing is None:
        return []
    lines = ["", f"Living with a list{f': {vessel}' if vessel else ''}"]
    columns = [
        TextColumn(head, _RANKS.get(head, 0), left=head == "way", meaning=means)
        for head, means in heads(standing)
    ]
    for at, one in enumerate(standing.lists):
        lines += ["", paragraph(headline(standing, one), layout.width)]
        last = at == len(standing.lists) - 1
        rows = [row(standing, one, one.ways[way]) for way in ROWS]
        lines += fitted(columns, rows, layout if last else replace(layout, detail="quiet"))
    if not layout.quiet:
        lines += [wrapped(text, layout.width) for text in basis(result, standing)]
    return lines


def lead_lines(result: SeasonResult, layout: Layout) -> list[str]:
    """For the route and speed of the verdict: ranking, limits exceeded, what she needs."""
    p = lead_passage(result)
    label = result.labels[p]
    mine = [r for r in result.records if all(r[key] == label[key] for key in label)]
    lines = []
    order = rank_lines(result, p)
    if order:
        lines += ["", f"{label['route']}, {label['speed_kn']:g} kn, in order:"]
        lines += [wrapped(text, layout.width) for text in order]
    keys = result.provenance.get("limit_keys", [])
    if keys:
        lines += ["", "What rules departures out, % of them (those by that limit alone):"]
        columns = [
            TextColumn("month"),
            *(TextColumn(LIMIT_WORDS[key].replace(" ", "\n")) for key in keys),
        ]
        rows = [
            [month, *("-" if c is None else f"{c[0]:.0f} ({c[1]:.0f})" for c in cells)]
            for month, cells in closing_rows(mine, keys)
        ]
        lines += fitted(columns, rows, replace(layout, detail="quiet"))
        legs = legs_of(result, mine[0])
        if any(leg["at_rest"] for leg in legs):
            lines += ["", "The same, over the limit under way / at rest:"]
            rows = [
                [month, *("-" if c is None else f"{c[0]:.0f} / {c[1]:.0f}" for c in cells)]
                for month, cells in where_rows(mine, keys)
            ]
            lines += fitted(columns, rows, replace(layout, detail="quiet"))
        lines += [wrapped(text, layout.width) for text in where_lines(mine[0], keys, legs)]
    year = next((r for r in mine if r["month"] == 0), None)
    if year is not None and year["covered"]:
        lines += ["", "What she will need over the whole period:"]
        needs = need_lines(year, result.provenance.get("usable_fuel_l"))
        lines += [wrapped(text, layout.width) for text in needs]
    return lines


def lead_passage(result: SeasonResult) -> int:
    """Index of the route and speed of the verdict; the first where it names none."""
    best = best_of(result)
    if best is None:
        return 0
    return next(
        i for i, label in enumerate(result.labels) if all(best[key] == label[key] for key in label)
    )


def season_csv(result: SeasonResult) -> str:
    """Statistics as CSV: a line for each route, speed and month (0: all year)."""
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\n")
    names = [f"{c.name}_p{p}" for c in COLUMNS for p in PERCENTILES]
    closed = [(kind, key) for _, key in LIMIT_KEYS for kind in _CLOSED]
    heads = [f"{kind.removesuffix('_percent')}_by_{key}_percent" for kind, key in closed]
    writer.writerow(["route", "speed_kn", "month", *PLAIN_KEYS, *heads, *names])
    for record in result.records:
        row = [record["route"], record["speed_kn"], record["month"]]
        row += ["" if record[k] is None else _csv(record[k]) for k in PLAIN_KEYS]
        row += [_csv(record[kind][key]) if key in record[kind] else "" for kind, key in closed]
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
    verdict = season_verdict(result)
    return {
        "schema_version": SEASON_SCHEMA_VERSION,
        "verdict": {**verdict.as_dict(), "doubt": verdict.doubt or None},
        "percentiles": list(PERCENTILES),
        "provenance": plain(result.provenance),
        "transfer": {"litres": plain(result.transfer.litres), "words": result.transfer.words},
        "standing": None if result.standing is None else standing_dict(result.standing),
        "bad_blocks": [
            {"block": number, "reason": why} for number, why in sorted(result.report.bad.items())
        ],
        "columns": [{"name": c.name, "unit": c.unit, "meaning": c.meaning} for c in COLUMNS],
        "calendar": [
            {**plain(label), **{name: plain(groups[p]) for name, groups in result.calendar.items()}}
            for p, label in enumerate(result.labels)
        ],
        "statistics": [plain(record) for record in result.records],
        "notes": list(result.notes),
        "caution": ODDS,
    }


def season_json(result: SeasonResult) -> str:
    """The same as JSON text; ``null`` for missing."""
    return json.dumps(season_dict(result), indent=1, ensure_ascii=False, allow_nan=False) + "\n"
