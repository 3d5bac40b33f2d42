"""Cards of a season: the routes and speeds side by side in the month of the verdict."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from passage.planning.season.season import SeasonResult
from passage.planning.season.stats import PERCENTILES
from passage.report.drawing.blocks import Card, Cards, Section
from passage.report.pages.cards import MOST_CARDS
from passage.report.text.season import wait_text
from passage.report.text.season_rank import MONTHS, enough, percent_text
from passage.report.text.verdict import number
from passage.report.text.verdict_season import GOOD_PERCENT


def season_options(
    result: SeasonResult, names: Sequence[str], best: dict[str, Any] | None
) -> list[Section]:
    """Shares, fuel, time, roll and sickness of each route and speed; empty without a verdict.

    ``names`` are those of charts and tables, in the order of ``result.labels``.
    """
    if best is None:
        return []
    month = int(best["month"])
    mine = [
        next((r for r in result.records if r["month"] == month and _same(r, label)), None)
        for label in result.labels
    ]
    shown = [i for i, one in enumerate(mine) if one is not None]
    # The advised one first, then by share.
    shown.sort(key=lambda i: (not _same(mine[i] or {}, best), -_share(mine[i]), i))
    items = [_card(result, names[i], mine[i] or {}, i, best) for i in shown[:MOST_CARDS]]
    when = f"leaving in {MONTHS[month]}" if month else "the whole period"
    more = len(shown) - MOST_CARDS
    intro = f"Medians of the departures, {when}." + (
        f" The {more} others are in the charts and tables." if more > 0 else ""
    )
    return [Section("The options", intro, [Cards(items)], "Options")]


def _same(one: dict[str, Any], other: dict[str, Any]) -> bool:
    return (one.get("route"), one.get("speed_kn")) == (other["route"], other["speed_kn"])


def _share(record: dict[str, Any] | None) -> float:
    value = None if record is None else record["within_limits_percent"]
    return -1.0 if value is None else float(value)


def _card(
    result: SeasonResult, name: str, one: dict[str, Any], style: int, best: dict[str, Any]
) -> Card:
    def middle(key: str, decimals: int, unit: str) -> str:
        values = one[key]
        value = None if values is None else values[PERCENTILES.index(50)]
        return f"{number(value, decimals)} {unit}" if value is not None else "unknown"

    rows = [
        ("fuel", middle("fuel_l", 0, "l")),
        ("time", middle("hours", 1, "h")),
        ("worst roll", middle("worst_window_roll_significant_deg", 1, "deg")),
        ("sickness", middle("worst_leg_motion_sickness_percent", 0, "%")),
    ]
    share = one["within_limits_percent"]
    state, note = "note", ""
    if share is not None:
        rows.insert(0, ("within limits", percent_text(share, one["few"])))
        if one["longest_wait_h"] is not None:
            rows.append(("longest wait", f"{wait_text(one)} h"))
        if not one["few"]:
            state = "good" if share >= GOOD_PERCENT else "limit"
        note = _range(result, one)
    lead = _same(one, best)
    return Card(f"{name}, advised" if lead else name, "", rows, note, state, style, lead)


def _range(result: SeasonResult, one: dict[str, Any]) -> str:
    """Best and worst month of this route and speed, of those with enough departures."""
    months = enough([
        r for r in result.records
        if r["month"] and _same(r, one) and r["within_limits_percent"] is not None
    ])  # fmt: skip
    if len(months) < 2:
        return ""
    high, low = max(months, key=_share), min(months, key=_share)
    return (
        f"Within limits, best month {MONTHS[high['month']]} "
        f"{percent_text(_share(high), high['few'])}, "
        f"worst {MONTHS[low['month']]} {percent_text(_share(low), low['few'])}."
    )
