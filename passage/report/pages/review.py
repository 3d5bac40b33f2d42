"""A review as a self-contained HTML page: how the plan came out, where it missed, and why."""

from __future__ import annotations

from passage.planning.review.causes import EXPLAINED, MissCauses
from passage.planning.review.legs import QUANTITIES
from passage.planning.review.review import Review
from passage.planning.review.strips import strips_of
from passage.report.drawing.blocks import Block, Column, Note, Notes, Section, Table, shown
from passage.report.drawing.charts_review import scatter_chart, way_chart
from passage.report.pages.page import render_page
from passage.report.text.review import (
    QUANTITY_MEANINGS,
    doubt_lines,
    review_verdict,
)

#: Quantities of the scatter charts: fuel and roll have bands, hours have none.
_SCATTERED = ("fuel", "roll", "hours")
_PARTS = (
    ("forecast", "as planned in the sea as it was, less the plan"),
    ("sailed differently", "as sailed in the sea as it was, less as planned in it"),
    ("model", "logged, less as sailed in the sea as it was"),
)


def review_page(found: Review, causes: MissCauses | None = None) -> str:
    """The page as text: answer, strips, scatter, parts of the miss, legs, doubts."""
    way = way_chart(strips_of(found))
    kinds = [one for name in _SCATTERED for one in QUANTITIES if one[0] == name]
    scatter = scatter_chart(found.legs, kinds)
    charts: list[Block] = [one for one in (way, scatter) if one is not None]
    doubts = [Note(line, "caution") for line in found.doubts]
    remarks = [Note(line) for line in doubt_lines(found)]
    parts = [] if causes is None else [_parts_table(causes)]
    notes = [] if causes is None else [Note(f"{note}.", "caution") for note in causes.notes]
    sections = [
        Section("Along the way", "", charts[:1], "Way"),
        Section("By leg", "", [*charts[1:], _legs_table(found)], "Legs"),
        Section(
            "Causes of the miss",
            "The parts depend on the order in which they are split off.",
            [*parts, Notes(notes)] if notes else parts,
            "Causes",
        ),
        Section(
            "What to doubt", "", [Notes([*doubts, *remarks])] if doubts or remarks else [], "Doubts"
        ),
    ]
    return render_page(
        f"{found.plan.vessel.name}: planned and logged",
        [section for section in sections if section.blocks],
        subtitle=found.plan.route,
        facts=[("Log", found.log_file), ("Plan", found.plan.file)],
        verdict=review_verdict(found, causes),
        footer=f"How: {'; '.join(found.how)}." if found.how else "",
        standing=(),
    )


def _parts_table(causes: MissCauses) -> Table:
    columns = [Column("", meaning="the quantity whose miss is split")]
    columns += [Column("miss", meaning="logged less planned")]
    columns += [Column(name, meaning=meaning) for name, meaning in _PARTS]
    rows: list[list[object]] = []
    for key, unit in EXPLAINED:
        parts = causes.parts[key]
        name = "fuel" if key == "fuel" else "roll rms"
        digits = 0 if unit == "l" else 2
        ways = [("", parts.first), (", otherwise first", parts.second)]
        for words, three in ways:
            if three is not None:
                cells = [shown(value, digits) for value in (parts.miss, *three)]
                rows.append([f"{name}, {unit}{words}", *cells])
    return Table(columns, rows, "The miss and its parts")


def _legs_table(found: Review) -> Table:
    there = [
        one for one in QUANTITIES if any(leg.pairs[one[0]].logged is not None for leg in found.legs)
    ]
    columns = [Column("leg", meaning="number of the leg, by the plan and by the log")]
    columns += [
        Column(words, unit, digits, QUANTITY_MEANINGS[key]) for key, words, unit, digits in there
    ]
    rows: list[list[object]] = []
    outside = []
    for leg in (*found.legs, found.whole):
        name = str(leg.leg) if leg.leg else "all"
        missed = [words for key, words, *_ in there if leg.pairs[key].within_band is False]
        outside.append("; ".join(missed))
        rows.append([f"{name} planned", *(leg.pairs[key].planned for key, *_ in there)])
        rows.append([f"{name} logged", *(leg.pairs[key].logged for key, *_ in there)])
    if any(outside):
        meaning = "logged values outside the plan's band"
        columns.append(Column("outside its band", meaning=meaning))
        for at, words in enumerate(outside):
            rows[2 * at].append("")
            rows[2 * at + 1].append(words)
    return Table(columns, rows, "Planned over logged")
