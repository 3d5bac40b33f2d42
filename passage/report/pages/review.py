"""A review as a self-contained HTML page: what came of the plan, where it missed, why."""

from __future__ import annotations

from passage.planning.review.causes import EXPLAINED, MissCauses
from passage.planning.review.largest import largest_miss
from passage.planning.review.legs import QUANTITIES, LegReview, PlannedLogged
from passage.planning.review.review import Review
from passage.planning.review.strips import strips_of
from passage.report.drawing.blocks import Block, Column, Figure, Note, Notes, Section, Table, shown
from passage.report.drawing.charts_review import scatter_chart, way_chart
from passage.report.pages.page import render_page
from passage.report.text.review import doubt_lines, review_answer, time_line
from passage.report.text.verdict import Verdict
from passage.units import utc_text

#: What is scattered: fuel and roll with their bands, then what has none.
_SCATTERED = ("fuel", "roll", "hours")
_PARTS = (
    ("forecast", "as planned on the sea as it was, less the plan"),
    ("doing otherwise", "as sailed on the sea as it was, less as planned on it"),
    ("model", "logged, less as sailed on the sea as it was"),
)


def review_page(found: Review, causes: MissCauses | None = None) -> str:
    """The page as text: answer, strips, scatter, parts of the miss, legs, doubts."""
    largest = largest_miss(found, causes)
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
            "What the miss is made of",
            "In this order; another order gives other parts.",
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
        facts=[
            ("Left", utc_text(found.whole.begin_s) if found.whole.begin_s is not None else None),
            ("Arrived", utc_text(found.whole.end_s) if found.whole.end_s is not None else None),
            ("Log", found.log_file),
            ("Plan", found.plan.file),
        ],
        verdict=_verdict(found, largest.words if largest else ""),
        footer=f"How: {'; '.join(found.how)}." if found.how else "",
        standing=(),
    )


def _verdict(found: Review, why: str) -> Verdict:
    """The answer at the head: whether the plan held, and where it missed most."""
    whole = found.whole
    held = [whole.pairs[key].within_band for key, _ in EXPLAINED]
    state = "over" if False in held else "unknown" if None in held else "within"
    word = {"over": "A band did not hold", "unknown": "Not all compared", "within": "Bands held"}
    figures = []
    for key, label, unit, digits in (
        ("fuel", "Fuel", "l", 0),
        ("roll", "Roll rms", "deg", 2),
        ("hours", "Time", "h", 1),
    ):
        pair = whole.pairs[key]
        if pair.logged is not None:
            under = "" if pair.planned is None else f"planned {pair.planned:.{digits}f}"
            figures.append(Figure(label, f"{pair.logged:.{digits}f}", unit, under))
    return Verdict(state, review_answer(found), why, time_line(found), tuple(figures), word[state])


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
    columns = [Column("leg"), Column("", meaning="side of the comparison")]
    columns += [
        Column(words, unit, digits, f"{words} of the leg") for _, words, unit, digits in there
    ]
    rows: list[list[object]] = []
    marked = []
    for leg in (*found.legs, found.whole):
        name = str(leg.leg) if leg.leg else "all"
        for side in ("planned", "logged"):
            if side == "logged" and _missed(leg):
                marked.append(len(rows))
            rows.append([name, side, *(_side(leg.pairs[key], side) for key, *_ in there)])
    return Table(columns, rows, "Planned over logged", marked=marked, mark="outside the band")


def _missed(leg: LegReview) -> bool:
    return any(leg.pairs[key].within_band is False for key, _ in EXPLAINED)


def _side(pair: PlannedLogged, side: str) -> float | None:
    return pair.planned if side == "planned" else pair.logged
