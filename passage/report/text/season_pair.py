"""Several vessels over the same season: side by side, with the difference by month."""

from __future__ import annotations

import csv
import io
import json
from collections.abc import Sequence
from dataclasses import replace
from typing import Any

from passage.planning.plan.result import plain
from passage.planning.season.calendar import CALM
from passage.planning.season.season import SeasonResult
from passage.planning.season.side_by_side import COMPARED, Difference, MonthPair, side_by_side
from passage.planning.season.spells import FEW_WORDS, INTERVAL_PERCENT
from passage.report.text.layout import Layout, TextColumn, fitted, paragraph, wrapped
from passage.report.text.season import ODDS, season_dict, standing_lists
from passage.report.text.season_rank import FEW_MARK, MONTHS, mark_of, percent_text
from passage.report.text.standing import standing_lines
from passage.report.text.verdict import Verdict, number
from passage.report.text.verdict_season import season_verdict

#: Numbers shown in the table: key, name, unit, decimals.
_SHOWN: tuple[tuple[str, str, str, int], ...] = (
    ("within_limits_percent", "within", "points", 0),
    ("fuel_l", "fuel", "l", 0),
    (CALM, "worst roll", "deg", 1),
    ("fin_travel_deg", "fin travel", "deg", 0),
)
#: A rank for each column of the table on the screen.
_RANKS = {"within_limits_percent": 0, "fuel_l": 0, CALM: 1, "fin_travel_deg": 2}


def vessel_names(results: Sequence[SeasonResult]) -> list[str]:
    """Names of the vessels; with their files where two have the same name."""
    names = [str(r.provenance["vessel"]) for r in results]
    if len(set(names)) == len(names):
        return names
    files = [str(r.provenance["vessel_file"]).replace("\\", "/").split("/")[-1] for r in results]
    return [f"{name} ({file})" for name, file in zip(names, files, strict=True)]


def _passage(results: Sequence[SeasonResult], pair: MonthPair) -> str:
    """Route and speed; both speeds where they differ."""
    one, two = (r.labels[pair.passage] for r in (results[0], results[pair.vessel]))
    speed = f"{one['speed_kn']:g} kn"
    if two["speed_kn"] != one["speed_kn"]:
        speed += f" and {two['speed_kn']:g} kn"
    return f"{one['route']}, {speed}"


def _signed(value: float, decimals: int) -> str:
    text = f"{value:+,.{decimals}f}"
    return text.replace("+", "").replace("-", "") if round(value, decimals) == 0.0 else text


def change_text(found: Difference | None, decimals: int) -> str:
    """``+4 (+1 to +8)``; a dash where not known."""
    if found is None:
        return "-"
    text = _signed(found.change, decimals)
    if found.interval is not None:
        text += f" ({' to '.join(_signed(end, decimals) for end in found.interval)})"
    return text


def _sure(found: Difference) -> bool:
    """Whether the interval excludes zero."""
    return found.interval is not None and found.interval[0] * found.interval[1] > 0.0


def answer(results: Sequence[SeasonResult], pairs: Sequence[MonthPair]) -> list[str]:
    """A sentence for each vessel and passage over the whole period."""
    names = vessel_names(results)
    lines = []
    for pair in (one for one in pairs if one.month == 0):
        parts = []
        share = pair.differences["within_limits_percent"]
        if share is not None:
            parts.append(
                f"{percent_text(share.second, share.few)} of departures within the limits, "
                f"{names[0]} {percent_text(share.first, share.few)}: {change_text(share, 0)} points"
                + ("" if _sure(share) else ", no sure difference")
            )
        fuel, roll = pair.differences["fuel_l"], pair.differences[CALM]
        if fuel is not None:
            parts.append(f"fuel {change_text(fuel, 0)} l on the mean of {number(fuel.first)} l")
        if roll is not None:
            parts.append(f"roll of the worst hour {change_text(roll, 1)} deg")
        few = mark_of(pair.few)
        lines.append(f"{names[pair.vessel]} on {_passage(results, pair)}: {'; '.join(parts)}.{few}")
    return lines


def own_answers(results: Sequence[SeasonResult]) -> list[str]:
    """Each vessel's own best month and what rules her out."""
    lines = []
    for name, result in zip(vessel_names(results), results, strict=True):
        verdict = season_verdict(result)
        lines.append(" ".join(f"{name}: {verdict.do} {verdict.why}".split()))
    return lines


def pair_verdict(results: Sequence[SeasonResult], pairs: Sequence[MonthPair]) -> Verdict:
    """The answer as the headline of a page: the difference over the whole period."""
    lines = answer(results, pairs)
    share = next((p.differences["within_limits_percent"] for p in pairs if p.month == 0), None)
    word = "Compared"
    if share is not None:
        word = (
            f"{change_text(share, 0).split(' ')[0]} points"
            if _sure(share)
            else "No sure difference"
        )
    if not lines:
        return Verdict("unknown", "No departure is known for both vessels.", word="Not compared")
    return Verdict("unknown", lines[0], " ".join(lines[1:]), word=word)


def rows_of(
    results: Sequence[SeasonResult], pairs: Sequence[MonthPair], vessel: int, passage: int
) -> list[list[str]]:
    """A row for each month: means of both and the difference with its interval."""
    rows = []
    for pair in pairs:
        if (pair.vessel, pair.passage) != (vessel, passage):
            continue
        row = [MONTHS[pair.month] + mark_of(pair.few), str(pair.departures)]
        for name, _, _, decimals in _SHOWN:
            found = pair.differences[name]
            if found is None:
                row += ["-", "-"]
                continue
            # The month bears the mark of all of it; a share may be of fewer departures still.
            mark = mark_of(name == "within_limits_percent" and found.few)
            both = f"{found.first:,.{decimals}f} / {found.second:,.{decimals}f}{mark}"
            row += [both, change_text(found, decimals)]
        rows.append(row)
    return rows


def heads() -> list[tuple[str, int]]:
    found = [("month", 0), ("departures", 3)]
    for name, title, unit, _ in _SHOWN:
        rank = _RANKS[name]
        found += [(f"{title}\n1 / 2", rank), (f"change\n{unit}", rank)]
    return found


def groups(pairs: Sequence[MonthPair]) -> list[tuple[int, int]]:
    return list(dict.fromkeys((pair.vessel, pair.passage) for pair in pairs))


def title(results: Sequence[SeasonResult], vessel: int, passage: int) -> str:
    names = vessel_names(results)
    pair = MonthPair(vessel, passage, 0, 0, 0, {})
    return f"{_passage(results, pair)}: 1 is {names[0]}, 2 is {names[vessel]}"


#: Printed below every table.
WORDS = (
    "Means over the departures that are known for both, and their difference with the interval "
    f"that holds {INTERVAL_PERCENT:.0f} % of draws of whole spells of weather: where both ends "
    f"have one sign, the difference is more than chance. {FEW_MARK}: {FEW_WORDS}, too few for odds."
)


def pair_table(results: Sequence[SeasonResult], layout: Layout = Layout()) -> str:  # noqa: B008 - frozen
    """The answer, then a table for each vessel and passage."""
    pairs = side_by_side(results)
    lines = [paragraph(text, layout.width) for text in answer(results, pairs)]
    lines += ["", *(wrapped(text, layout.width) for text in own_answers(results))]
    columns = [TextColumn(head, rank) for head, rank in heads()]
    each = groups(pairs)
    for at, (vessel, passage) in enumerate(each):
        lines += ["", paragraph(title(results, vessel, passage), layout.width)]
        rows = rows_of(results, pairs, vessel, passage)
        last = at == len(each) - 1
        lines += fitted(columns, rows, layout if last else replace(layout, detail="quiet"))
    for name, result in zip(vessel_names(results), results, strict=True):
        lines += standing_lists(result, layout, name)
    if not layout.quiet:
        lines += ["", paragraph(WORDS, layout.width), paragraph(ODDS, layout.width)]
    return "\n".join([*lines, *standing_lines(layout)]) + "\n"


def pair_json(results: Sequence[SeasonResult]) -> str:
    """Each season's statistics and the differences."""
    pairs = side_by_side(results)
    names = vessel_names(results)
    found: dict[str, Any] = {
        "verdict": answer(results, pairs),
        "verdict_of_each": own_answers(results),
        "vessels": names,
        "differences": [
            {
                "vessel": names[pair.vessel],
                "against": names[0],
                **plain(results[0].labels[pair.passage]),
                "month": pair.month,
                "departures": pair.departures,
                "spells": pair.spells,
                "few": pair.few,
                **{
                    name: None if one is None else plain(vars(one))
                    for name, one in pair.differences.items()
                },
            }
            for pair in pairs
        ],
        "seasons": [season_dict(result) for result in results],
    }
    return json.dumps(found, indent=1, ensure_ascii=False, allow_nan=False) + "\n"


def pair_csv(results: Sequence[SeasonResult]) -> str:
    """A line for each vessel, route, speed and month (0: all)."""
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\n")
    kinds = ("first", "second", "change", "change_low", "change_high")
    writer.writerow(
        ["vessel", "against", "route", "speed_kn", "month", "departures", "spells", "few"]
        + [f"{name}_{kind}" for name in COMPARED for kind in kinds]
    )
    names = vessel_names(results)
    for pair in side_by_side(results):
        label = results[0].labels[pair.passage]
        line: list[Any] = [
            names[pair.vessel], names[0], label["route"], label["speed_kn"], pair.month,
            pair.departures, pair.spells, "yes" if pair.few else "no",
        ]  # fmt: skip
        for name in COMPARED:
            found = pair.differences[name]
            if found is None:
                line += [""] * len(kinds)
                continue
            ends = found.interval or (None, None)
            cells = (found.first, found.second, found.change, *ends)
            line += ["" if x is None else f"{x:.7g}" for x in cells]
        writer.writerow(line)
    return out.getvalue()
