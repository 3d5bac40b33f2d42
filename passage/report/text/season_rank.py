"""A season in words: what rules departures out, best times, how sure, what she needs."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date, timedelta
from typing import Any

from passage.planning.season.calendar import CALM, ranked
from passage.planning.season.season import SeasonResult
from passage.planning.season.spells import FEW_WORDS, INTERVAL_PERCENT
from passage.planning.season.stats import AT_LIMIT_PERCENT, TANK_PERCENT
from passage.planning.voyage.limits import LIMIT_WORDS
from passage.report.text.clocks import local_hours, zones_shown
from passage.report.text.verdict import listed, number

MONTHS = (
    "year", "Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec",
)  # fmt: skip
#: Mark of a percentage from too few departures or spells.
FEW_MARK = "(few)"
#: Number of months, weeks and hours named as best.
_NAMED = 3
#: Smaller differences between shares count as none. [%]
_ALIKE = 2.0


def mark_of(few: bool) -> str:
    """The mark behind a number of too few departures or spells, with its space; else empty."""
    return f" {FEW_MARK}" if few else ""


def share_text(percent: float | None, few: bool) -> str:
    """A share within limits, marked where there are too few departures or spells."""
    if percent is None:
        return "-"
    return f"{percent:.0f}{mark_of(few)}"


def percent_text(percent: float | None, few: bool) -> str:
    """``72 %``, marked where there are too few departures or spells."""
    return f"{number(percent)} %{mark_of(few)}"


def enough(records: Sequence[dict[str, Any]]) -> list[dict[str, Any]]:
    """Those of enough departures and spells, which alone are ranked; all where none has enough."""
    return [one for one in records if not one["few"]] or list(records)


def between_text(record: dict[str, Any]) -> str:
    """The interval of a share for a sentence, ``" (58 to 81 %)"``; empty where there is none."""
    low, high = record["within_low_percent"], record["within_high_percent"]
    return "" if low is None else f" ({number(low)} to {number(high)} %)"


def interval_text(record: dict[str, Any]) -> str:
    """Interval of the share, ``58-81``; a dash where there is none."""
    low, high = record["within_low_percent"], record["within_high_percent"]
    return "-" if low is None else f"{low:.0f}-{high:.0f}"


def years_text(record: dict[str, Any]) -> str:
    """Lowest and highest share of a year, ``40-90``; a dash with one year only.

    Marked where a year has too few departures or spells.
    """
    low, high = record["year_lowest_percent"], record["year_highest_percent"]
    if low is None:
        return "-"
    mark = mark_of(any(year["few"] for year in record["by_year"]))
    return f"{low:.0f}-{high:.0f}{mark}"


def closing_text(record: dict[str, Any]) -> str:
    """The limit that rules out most departures and its share, ``significant roll 31``."""
    shares = record["closed_percent"]
    if not shares:
        return "-"
    key = max(shares, key=lambda one: shares[one])
    if shares[key] < 0.5:
        return "-"
    return f"{LIMIT_WORDS[key]} {share_text(shares[key], record['few'])}"


def closing_rows(
    records: Sequence[dict[str, Any]],
    keys: Sequence[str],
    names: tuple[str, str] = ("closed_percent", "closed_alone_percent"),
) -> list[tuple[str, list[tuple[float, float] | None]]]:
    """Month, marked where of few, and two shares for each limit. [%]

    Unless ``names`` has others: departures over it, and over it alone.
    """
    rows: list[tuple[str, list[tuple[float, float] | None]]] = []
    for record in records:
        shares, others = (record[name] for name in names)
        if record["month"] and not shares:
            continue
        rows.append(
            (
                MONTHS[record["month"]] + mark_of(record["few"] and bool(shares)),
                [(shares[key], others[key]) if key in shares else None for key in keys],
            )
        )
    return rows


def legs_of(result: SeasonResult, record: dict[str, Any]) -> list[dict[str, Any]]:
    """Legs of a record's route, with ``name`` and ``at_rest``; empty where not known."""
    for label, legs in zip(
        getattr(result, "labels", ()), result.provenance.get("legs", ()), strict=False
    ):
        if all(record[key] == label[key] for key in label):
            return list(legs)
    return []


def where_text(record: dict[str, Any], key: str, legs: Sequence[dict[str, Any]]) -> str:
    """How many departures are over a limit at rest and under way, and on which leg most often.

    ``at rest 100 %, on leg 3, stay at B; under way 12 %, most often on leg 6, C to D``; of a route
    without stays the leg alone; empty where there is nothing to name. ``legs`` have ``name`` and
    ``at_rest``.
    """
    stays = any(leg["at_rest"] for leg in legs)
    parts = []
    for kind in ("at_rest", "under_way"):
        share = record.get(f"closed_{kind}_percent", {}).get(key, 0.0)
        if share <= 0.0:
            continue
        one = sum(leg["at_rest"] == (kind == "at_rest") for leg in legs) == 1
        at = record[f"closed_leg_{kind}"][key]
        most = record[f"closed_leg_{kind}_percent"][key]
        where = f"{'' if most > 99.5 else 'most often '}on leg {at}, {legs[at - 1]['name']}"
        if not stays:
            return "" if one else where
        parts.append(f"{kind.replace('_', ' ')} {percent_text(share, record['few'])}, {where}")
    return "; ".join(parts)


def rest_only_text(record: dict[str, Any]) -> str:
    """Departures that a stay alone rules out; empty where there is none."""
    share = record.get("closed_at_rest_only_percent")
    if not share:
        return ""
    return f"{percent_text(share, record['few'])} of departures are over limits at rest only."


def where_lines(
    record: dict[str, Any], keys: Sequence[str], legs: Sequence[dict[str, Any]]
) -> list[str]:
    """A sentence for each limit that rules out departures: where."""
    found = [(key, where_text(record, key, legs)) for key in keys]
    lines = [
        f"{LIMIT_WORDS[key][0].upper()}{LIMIT_WORDS[key][1:]}: {text}."
        for key, text in found
        if text
    ]
    return [*lines, *filter(None, [rest_only_text(record)])]


def where_rows(
    records: Sequence[dict[str, Any]], keys: Sequence[str]
) -> list[tuple[str, list[tuple[float, float] | None]]]:
    """As ``closing_rows``: departures over each limit under way and at rest. [%]"""
    return closing_rows(records, keys, ("closed_under_way_percent", "closed_at_rest_percent"))


def week_words(week: int) -> str:
    """``11 Jun``, the day on which a week of the year begins (not in a leap year)."""
    day = date(2001, 1, 1) + timedelta(days=7 * (week - 1))
    return f"{day.day} {MONTHS[day.month]}"


def _worth(group: dict[str, Any], limits_set: bool) -> str:
    if not limits_set:
        return f"{number(group[CALM], 1)} deg"
    text = percent_text(group["within_limits_percent"], group["few"])
    return f"{text}{between_text(group)}"


def _ends(groups: list[dict[str, Any]], name: Any, limits_set: bool) -> str:
    """Best and worst groups, each with the value it is ranked by."""
    named = groups[: min(_NAMED, max(len(groups) - 1, 1))]
    best = listed([f"{name(g)} {_worth(g, limits_set)}" for g in named])
    if len(groups) < 2:
        return best
    worst = groups[-1]
    return f"{best}; worst {name(worst)} {_worth(worst, limits_set)}"


def _not_ranked(few: list[dict[str, Any]], name: Any) -> str:
    """Groups of too few departures, named apart; counted where there are many."""
    if not few:
        return ""
    if len(few) > _NAMED:
        return f" {len(few)} others are not ranked {FEW_MARK}."
    return f" Not ranked: {listed([f'{name(g)} {_worth(g, True)}' for g in few])}."


def _alike(order: list[dict[str, Any]]) -> bool:
    """Whether all shares are so close that there is nothing to choose."""
    shares = [g["within_limits_percent"] for g in order]
    return len(shares) > 1 and max(shares) - min(shares) < _ALIKE


def rank_lines(result: SeasonResult, p: int) -> list[str]:
    """Best month, week and hour of leaving of one passage, a sentence each."""
    limits_set = bool(result.provenance.get("limits_set", True))
    label = result.labels[p]
    months = [
        {**r, "group": r["month"], CALM: None if r[CALM] is None else r[CALM][2]}
        for r in result.records
        if r["month"] and all(r[key] == label[key] for key in label)
    ]
    lines = []
    for groups, title, name in (
        (months, "Months", lambda g: MONTHS[g["group"]]),
        (
            result.calendar["weeks"][p],
            "Weeks, by the day they begin",
            lambda g: week_words(g["group"]),
        ),
        (result.calendar["hours"][p], _hours_head(), lambda g: _hour(g["group"])),
    ):  # fmt: skip
        every = ranked(groups, limits_set=limits_set)
        order = enough(every) if limits_set else every
        rest = _not_ranked(every[len(order) :], name)
        if limits_set and _alike(order):
            text = f"{title}: it makes no difference, all about {_worth(order[0], True)}."
        elif len(order) > 1:
            by = "share within limits" if limits_set else "median roll of the worst hour"
            text = f"{title}, best first by {by}: {_ends(order, name, limits_set)}."
        else:
            continue
        lines.append(text + rest)
    return lines


def _hours_head() -> str:
    zones = zones_shown()
    return f"Hours of leaving, UTC{f' (local time, {zones[0]})' if zones else ''}"


def _hour(hour: int) -> str:
    local = local_hours(hour)
    return f"{hour:02d}:00{f' ({local})' if local else ''}"


def sure_words(result: SeasonResult) -> str:
    """The meaning of the interval and of the mark for few."""
    hours = sorted(record["spell_h"] for record in result.records)
    low, high = (f"{h / 24.0:.1f}" for h in (hours[0], hours[-1]))
    days = low if low == high else f"{low} to {high}"
    return (
        f"Interval: whole spells of weather ({days} days each) drawn again and again give a share "
        f"within it {INTERVAL_PERCENT:.0f} times in 100. {FEW_MARK}: {FEW_WORDS}, too few for odds."
    )


def need_lines(record: dict[str, Any], usable_l: float | None) -> list[str]:
    """How often one passage needs fins, at-rest mode and fuel, over the whole period."""
    lines = []
    mark = mark_of(record["few"])
    if record["fins_at_limit_share_percent"] is not None:
        lines.append(
            f"Fins at a limit of angle or rate for more than {AT_LIMIT_PERCENT:.0f} % of their "
            f"working time: {number(record['fins_at_limit_share_percent'])} % of "
            f"departures{mark}."
        )
    if record["slamming_share_percent"] is not None:
        lines.append(
            f"Slamming likely: {number(record['slamming_share_percent'])} % of departures{mark}"
            f"{_typical(record['slamming_hours'])}."
        )
    rest = record["fin_hours_at_rest"]
    if rest is not None and rest[-1] > 0.0:
        lines.append(f"Fins at work at rest{_typical(rest) or ': hardly ever'}{mark}.")
    if record["tank_fuel_l"] is not None:
        text = (
            f"Fuel for {TANK_PERCENT} % of passages{mark}: {number(record['tank_fuel_l'])} l, "
            "before any reserve"
        )
        if usable_l is not None:
            text += f"; the tanks as filled give {number(usable_l)} l above their minimum"
        lines.append(f"{text}.")
    if mark and lines:
        lines.append(f"{FEW_MARK}: {FEW_WORDS}, too few for odds.")
    return lines


def _typical(hours: Sequence[float] | None) -> str:
    """Hours that half of the passages and one in ten reach; empty where one in ten has none."""
    if hours is None or hours[4] < 0.05:
        return ""
    half = f"{hours[2]:.1f} h or more on half of the passages, " if hours[2] >= 0.05 else ""
    return f": {half}{hours[4]:.1f} h or more on one in ten"
