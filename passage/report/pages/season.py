"""A season as a self-contained HTML page: months by route, bands, shares and waits."""

from __future__ import annotations

from typing import Any

import numpy as np

from passage.planning.season.departures import COLUMN_BY_NAME
from passage.planning.season.season import SeasonResult
from passage.planning.season.stats import PERCENTILES
from passage.planning.voyage.limits import LIMIT_WORDS
from passage.report.drawing.blocks import (
    Block,
    Chart,
    Column,
    Facts,
    Note,
    Notes,
    Section,
    Table,
)
from passage.report.drawing.charts_panel import Limit
from passage.report.drawing.charts_season import month_chart, share_chart
from passage.report.pages.page import render_page
from passage.report.pages.season_cards import season_options
from passage.report.text.season import ODDS, lead_passage, wait_text
from passage.report.text.season_list import ROWS, basis, headline, heads, row, title
from passage.report.text.season_rank import (
    FEW_MARK,
    MONTHS,
    closing_rows,
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
from passage.report.text.verdict_season import best_of, season_verdict

#: Units as people read them.
_UNITS = {"L": "l", "degree": "deg", "percent": "%", "hour": "h", "1": "g", "m": "m"}
#: Charts by month: the number, the chart's title, the heading of its axis.
_MONTH_CHARTS = (
    (
        "worst_window_roll_significant_deg",
        "Roll of the worst hour, fins active",
        "Roll, significant single amplitude, deg",
    ),
    (
        "worst_leg_motion_sickness_percent",
        "Sickness, worst place and leg",
        "People expected to be sick, %",
    ),
    ("fuel_l", "Fuel of the passage", "Fuel, litres"),
    ("hours", "Time of the passage", "Hours"),
    (
        "mean_roll_active_significant_deg",
        "Roll on the whole passage, fins active",
        "Roll, significant single amplitude, deg",
    ),
    (
        "worst_leg_roll_centred_significant_deg",
        "Roll of the worst leg, fins centred",
        "Roll, significant single amplitude, deg",
    ),
)
#: The first so many are always shown, the others in a section that is folded.
_FIRST = 4
#: Numbers that differ by less than this share between months are not charted.
_FLAT = 0.01


def season_page(result: SeasonResult) -> str:
    """The page as text."""
    names = [f"{label['route']}, {label['speed_kn']:g} kn" for label in result.labels]
    by = {(r["route"], r["speed_kn"], r["month"]): r for r in result.records}
    months = sorted({r["month"] for r in result.records} - {0})
    keys = [(label["route"], label["speed_kn"]) for label in result.labels]

    def record(p: int, month: int) -> dict[str, Any] | None:
        return by.get((*keys[p], month))

    lead = lead_passage(result)
    charts = [
        [
            chart for one in group
            if (chart := _month(*one, names, months, record, result)) is not None
        ]
        for group in (_MONTH_CHARTS[:_FIRST], _MONTH_CHARTS[_FIRST:])
    ]  # fmt: skip
    sections = [
        *season_options(result, names, best_of(result)),
        *(_within(names, months, record) if result.provenance.get("limits_set", True) else []),
        *standing_section(result),
        *_closing(result, lead),
        *_best(result, lead),
        Section("Comfort and fuel by month", blocks=charts[0], short="Months"),
        *_needs(result, lead),
        Section("List: fins or a transfer", blocks=_heel(names, months, record, result),
                short="List"),
        *_tables(names, months, record, lead),
        *([Section("Other rolls by month", blocks=charts[1], short="Rolls", folded=True)]
          if charts[1] else []),
        Section("What this rests on", blocks=_basis(result), short="Sources",
                folded=True),
    ]  # fmt: skip
    provenance = result.provenance
    return render_page(
        f"{provenance['vessel']}: departures over the years",
        sections,
        subtitle=f"{provenance['from_utc'][:10]} to {provenance['to_utc'][:10]}, a departure every "
        f"{provenance['every_h']:g} hours",
        footer=ODDS,
        verdict=season_verdict(result),
    )


def _within(names: list[str], months: list[int], record: Any) -> list[Section]:
    """The chart of shares within the limits."""
    chart = shares_by_month(
        "Within limits", "Departures within limits, %", names, months, record, key="within"
    )
    intro = (
        "Share of departures whose every leg stays within the limits of the vessel file, of those "
        "that the data cover from end to end."
    )
    return [Section("Within the owner's limits", intro, [chart], short="Limits")]


def shares_by_month(
    title: str,
    axis: str,
    names: list[str],
    months: list[int],
    record: Any,
    *,
    name: str = "within_limits_percent",
    key: str,
) -> Chart:
    """A share of the records of each line and month, those of too few departures marked."""
    found = [[record(p, m) for m in months] for p in range(len(names))]
    return share_chart(
        title, axis, names, [[_value(one, name) for one in line] for line in found],
        months=months, key=key,
        few=[[one is not None and one["few"] for one in line] for line in found],
        few_mark=FEW_MARK,
    )  # fmt: skip


def _closing(result: SeasonResult, lead: int) -> list[Section]:
    """What rules departures out: each limit's share by month, for each route and speed."""
    keys = result.provenance.get("limit_keys", [])
    if not keys:
        return []
    blocks: list[list[Block]] = []
    for label in result.labels:
        mine = [r for r in result.records if all(r[key] == label[key] for key in label)]
        legs = legs_of(result, mine[0])
        name = f"{label['route']}, {label['speed_kn']:g} kn"
        made: list[Block] = [
            _by_limit(
                f"Over limits: {name}", keys, closing_rows(mine, keys), "{:.0f} ({:.0f})",
                "departures over the limit of {}; in brackets, over it alone",
            )
        ]  # fmt: skip
        if any(leg["at_rest"] for leg in legs):
            made.append(
                _by_limit(
                    f"Under way / at rest: {name}", keys, where_rows(mine, keys), "{:.0f} / {:.0f}",
                    "departures over the limit of {} under way / at rest",
                )
            )  # fmt: skip
        where = where_lines(mine[0], keys, legs)
        # One note, so that a printed page stays short.
        blocks.append([*made, *([Notes([" ".join(where)])] if where else [])])
    intro = (
        "Share of the judged departures over each limit. A departure may be over several; in "
        "brackets those over this limit alone, which raising it would allow."
    )
    first = Section("What rules departures out", intro, blocks.pop(lead), short="Ruled out")
    if not blocks:
        return [first]
    rest = [block for group in blocks for block in group]
    others = Section("What rules out others", blocks=rest, short="Others ruled out", folded=True)
    return [first, others]


def _by_limit(caption: str, keys: list[str], found: Any, cell: str, meaning: str) -> Table:
    """Two shares for each month and limit; the whole period last."""
    columns = [Column("month", meaning="month of leaving; all: the whole period")]
    for key in keys:
        word = LIMIT_WORDS[key]
        columns.append(Column(word, "%", 0, meaning.format(word)))
    rows: list[list[object]] = []
    for month, cells in found:
        row: list[object] = [month.replace("year", "all")]
        rows.append(row + [None if one is None else cell.format(*one) for one in cells])
    rows.append(rows.pop(0))
    return Table(columns, rows, caption=caption)


def standing_section(result: SeasonResult, vessel: str = "") -> list[Section]:
    """The cost of living with each standing list; ``vessel`` in the heading where several."""
    standing = result.standing
    if standing is None:
        return []
    # The share within limits, which decides, comes where no narrow window hides it.
    every = heads(standing)
    order = sorted(range(len(every)), key=lambda i: (i > 0, not every[i][0].startswith("within")))
    columns = [Column(every[i][0], meaning=every[i][1]) for i in order]
    blocks: list[Block] = []
    for one in standing.lists:
        rows: list[list[object]] = []
        for way in ROWS:
            cells = row(standing, one, one.ways[way])
            rows.append([cells[i] for i in order])
        blocks += [Notes([headline(standing, one)]), Table(columns, rows, caption=title(one))]
    blocks.append(Notes(list(basis(result, standing))))
    of = f": {vessel}" if vessel else ""
    return [Section(f"Living with a list{of}", blocks=blocks, short=f"Standing list{of}")]


def _best(result: SeasonResult, p: int) -> list[Section]:
    """Months, weeks and hours of leaving, best first; empty where there is one of each."""
    lines = rank_lines(result, p)
    if not lines:
        return []
    return [Section("Best month, week and hour", blocks=[Notes(list(lines))], short="Best")]


def _needs(result: SeasonResult, p: int) -> list[Section]:
    """How often she needs what she carries (fins, fuel), over the whole period."""
    label = result.labels[p]
    year = next(
        (r for r in result.records if not r["month"] and all(r[k] == label[k] for k in label)), None
    )
    if year is None or not year["covered"]:
        return []
    lines = need_lines(year, result.provenance.get("usable_fuel_l"))
    title = f"Whole period, {label['route']}, {label['speed_kn']:g} kn."
    return [Section("What she will need", title, [Notes(list(lines))], short="Need")]


def _value(record: dict[str, Any] | None, name: str) -> float:
    value = None if record is None else record[name]
    return np.nan if value is None else float(value)


def _column(name: str) -> Column:
    found = COLUMN_BY_NAME[name]
    return Column(found.heading, _UNITS.get(found.unit, found.unit), found.decimals, found.meaning)


def _month(
    name: str, title: str, heading: str, names: Any, months: Any, record: Any, result: SeasonResult
) -> Block | None:
    """Percentiles of one number by month; None where the months do not differ."""
    values = np.full((len(names), len(months), len(PERCENTILES)), np.nan)
    counts = np.zeros((len(names), len(months)))
    for p in range(len(names)):
        for i, m in enumerate(months):
            one = record(p, m)
            if one is not None and one[name] is not None:
                values[p, i] = one[name]
                counts[p, i] = one["covered"]
    known = values[np.isfinite(values).all(axis=(1, 2))]
    if known.size and np.all(np.ptp(known, axis=(1, 2)) < _FLAT * np.abs(known).max(axis=(1, 2))):
        return None
    return month_chart(
        title,
        heading,
        names,
        values,
        column=_column(name),
        counts=counts,
        limit=_limit(name, result),
        months=months,
        from_zero=name not in ("fuel_l", "hours"),
        key=name.replace("_", "-"),
    )


def _limit(name: str, result: SeasonResult) -> Limit | None:
    limit = result.provenance.get("limits", {}).get(name)
    return None if limit is None else Limit(limit, "owner's limit")


def _tables(names: list[str], months: list[int], record: Any, lead: int) -> list[Section]:
    """Tables by month: the route and speed of the verdict, then the others, folded."""
    made = [Section("Every month", f"{names[lead]}. Medians of the departures.",
                    [_waits(names, months, record, lead)], short="Table")]  # fmt: skip
    others = [_waits(names, months, record, p) for p in range(len(names)) if p != lead]
    if others:
        made.append(
            Section("Other routes and speeds", blocks=others, short="Others by month", folded=True)
        )
    return made


def _waits(names: list[str], months: list[int], record: Any, p: int) -> Table:
    rows: list[list[object]] = []
    for m in (*months, 0):
        one = record(p, m)
        if one is None:
            continue
        hours, travel = _median(one, "hours"), _median(one, "fin_travel_deg")
        rows.append(
            [
                "all" if m == 0 else MONTHS[m],
                one["departures"],
                one["off_data"],
                (
                    share_text(one["within_limits_percent"], True)
                    if one["few"]
                    else one["within_limits_percent"]
                ),
                interval_text(one),
                years_text(one),
                wait_text(one) if one["longest_wait_h"] is not None else None,
                _median(one, "fuel_l"),
                hours,
                _median(one, "worst_window_roll_significant_deg"),
                _median(one, "fin_hours_active"),
                None if travel is None else round(travel, -3),
            ]
        )
    return Table(
        [
            Column("month", meaning="month of leaving; all: the whole period"),
            Column("departures", "", 0, "departures computed"),
            Column("off the data", "", 0, "counted apart, in no share and no median"),
            Column("within limits", "%", 0, "share of departures with every leg within limits"),
            Column("interval", "%", None, "what the share may be, from spells drawn again"),
            Column("years", "%", None, "share of the worst and of the best year"),
            Column("longest wait", "h", None, "for a departure within limits"),
            Column("fuel", "l", 0, "of the passage, median"),
            Column("time", "h", 1, "of the passage, median"),
            Column("worst roll", "deg", 1, "significant, worst hour, fins active, median"),
            Column("fin hours", "h", 1, "hours the fins work under way, median"),
            Column("fin travel", "deg", 0, "angle one fin swings through, to the thousand, median"),
        ],
        rows,
        caption=f"Departures by month: {names[p]}",
    )


def _median(one: dict[str, Any], name: str) -> float | None:
    values = one[name]
    return None if values is None else float(values[PERCENTILES.index(50)])


def _heel(names: Any, months: Any, record: Any, result: SeasonResult) -> list[Block]:
    if result.transfer.litres is None:
        return [Notes([f"Not compared: {result.transfer.words}."])]
    return [
        Notes(
            [
                f"One transfer: {result.transfer.words}.",
                "It is compared with the fuel that the fins burn for the list, beyond what they "
                "would burn for the wind alone; where that is less, holding the list with fins was "
                "cheaper. `passage heel` compares them for one passage, leg by leg.",
            ]
        ),
        shares_by_month(
            "Fins cheaper than a transfer",
            "Departures where fins were cheaper, %",
            names,
            months,
            record,
            name="fins_cheaper_percent",
            key="heel",
        ),
    ]


def _basis(result: SeasonResult) -> list[Block]:
    provenance = result.provenance
    notes: list[Note | str] = [*result.notes]
    if provenance.get("limits_set", True):
        notes.insert(0, sure_words(result))
    notes += [
        Note(f"Block {number} is missing: {why}", "caution")
        for number, why in sorted(result.report.bad.items())
    ]
    facts: list[tuple[str, object]] = [
        ("vessel file", f"{provenance['vessel_file']}, sha256 {provenance['vessel_sha256'][:16]}"),
        ("routes", ", ".join(dict.fromkeys(provenance["routes"]))),
        *(
            ("hindcast", f"{f['file']}, sha256 {f['sha256'][:16]} ({f['hashed']})")
            for f in provenance["forecasts"]
        ),
        ("made by", f"passage {provenance['passage_version']}"),
    ]
    blocks: list[Block] = [Facts(facts)]
    return [*blocks, Notes(notes)] if notes else blocks
