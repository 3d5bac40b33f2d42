"""The heel decision as a self-contained HTML page."""

from __future__ import annotations

from datetime import datetime
from typing import Any

import numpy as np

from passage.planning.heel.cards import Card as WayCard
from passage.planning.heel.heel import HeelAnswer
from passage.planning.heel.words import transfer_advice, transfer_words, way_words
from passage.report.drawing.blocks import (
    Block,
    Card,
    Cards,
    Column,
    Facts,
    Note,
    Notes,
    Section,
    Table,
)
from passage.report.drawing.charts_heel import break_even_chart, heel_strip, policy_chart
from passage.report.pages.heel_chances import chance_blocks
from passage.report.pages.page import render_page
from passage.report.text.clocks import beside
from passage.report.text.heel import change_line, largest_offset, miles_words
from passage.report.text.heel_cards import (
    HELD_WORDS,
    advised_transfers,
    card_rows,
    tables_of,
    tank_state,
    tank_table,
)
from passage.report.text.heel_chances import limit_set
from passage.report.text.verdict_heel import heel_verdict
from passage.units import HOUR_S, utc_text

#: Speeds drawn in the break-even chart; the table below it has all.
_CURVES = 4


def heel_page(answer: HeelAnswer) -> str:
    """The page as text."""
    sections = [
        Section(
            "The ways side by side",
            "Each way over the whole passage. Litres include fuel, crew time at the fuel price, "
            "and what comfort is worth to the owner."
            + (f" {HELD_WORDS}" if answer.hold == "fuel" else ""),
            [_cards(answer)],
            short="Ways",
        ),
        Section("For and against the advice", blocks=[_notes(answer)], short="Advice"),
        Section("Heel along the way", blocks=[_strip(answer), _why(answer)], short="Legs"),
        *_tank_sections(answer),
        Section("Moments leg by leg", blocks=[_legs(answer)], short="Moments", folded=True),
        Section(
            "What each way costs",
            "Litres over the whole passage: fuel burnt, crew time at the fuel price, and what "
            "comfort is worth to the owner.",
            [_policies(answer), *chance_blocks(answer)],
            short="Price",
            folded=True,
        ),
        Section(
            "What the offset does to roll", blocks=[_offsets(answer)], short="Roll", folded=True
        ),
        *_break_even(answer),
        Section(
            "Every change that was tried", blocks=[_changes(answer)], short="Doubt", folded=True
        ),
        Section(
            "Fins at work or centred",
            blocks=[Notes(_fin_lines(answer))],
            short="Fins",
            folded=True,
        ),
        Section("What this rests on", blocks=_basis(answer), short="Basis", folded=True),
    ]
    return render_page(
        f"{answer.vessel_name}: heel",
        sections,
        subtitle=f"{answer.route_name}, leaving {utc_text(answer.departure_s)}"
        f"{beside(answer.departure_s)}",
        verdict=heel_verdict(answer),
    )


def _notes(answer: HeelAnswer) -> Notes:
    severity = {"warning": "limit", "caution": "caution"}
    items = [Note(line) for line in answer.plan.summary]
    items += [
        Note(change_line(one), where="if otherwise")
        for one in answer.plan.changes
        if one.verdict == "other advice"
    ]
    items += [
        Note(one.text, severity.get(one.severity, "note"), _where(one.legs))
        for one in answer.cautions
    ]
    return Notes(items)


def _where(legs: tuple[int, ...]) -> str:
    if not legs:
        return ""
    return ("leg " if len(legs) == 1 else "legs ") + ", ".join(map(str, legs))


def _seconds(text: str | None) -> float:
    return np.nan if text is None else datetime.fromisoformat(text).timestamp()


def _cards(answer: HeelAnswer) -> Block:
    rows = card_rows(answer)
    items = []
    for at, card in enumerate(answer.cards):
        within = False if card.priced is None else answer.within(card.priced)
        items.append(
            Card(
                f"{card.heading[0].upper()}{card.heading[1:]}",
                f"{card.brief[0].upper()}{card.brief[1:]}." if card.brief else "",
                [(label, cells[at]) for label, cells in rows if cells[at] != "-"],
                _card_note(answer, card),
                "note" if within is None else "good" if within else "limit",
                None,
                card.advised,
            )
        )
    return Cards(items)


def _card_note(answer: HeelAnswer, card: WayCard) -> str:
    if card.why_not:
        return f"{card.why_not[0].upper()}{card.why_not[1:]}."
    note = f"{card.note}. " if card.note else ""
    note += f"On arrival: {tank_state(answer, card)}."
    return f"{note} {card.flip.lead} {card.flip.words}." if card.flip else note


def _tank_sections(answer: HeelAnswer) -> list[Section]:
    states = advised_transfers(answer)
    if not states:
        return []
    blocks: list[Block] = []
    for some in tables_of(states, 3):
        headings, rows = tank_table(answer, some)
        cells: list[list[object]] = [list(row) for row in rows]
        orders = "; ".join(
            f"before leg {one.before_leg} {transfer_words(one)}"
            for state in some
            for one in (transfer_advice(answer.plan.comparison.problem, m) for m in state.moves)
        )
        blocks.append(Table([Column(one) for one in headings], cells, f"Ordered: {orders}."))
    return [
        Section(
            "Tanks before and after",
            "To be checked in the approved stability booklet or loading computer, and signed.",
            blocks,
            short="Tanks",
            sheet=True,
        )
    ]


def _strip(answer: HeelAnswer) -> Block:
    points = answer.points
    half = 0.5 * points["hours"] * HOUR_S
    start, end = points["time_s"] - half, points["time_s"] + half
    if not (np.isfinite(start).all() and np.isfinite(end).all()):
        return Notes([Note("Not all times are known, so heel is not drawn over time.", "caution")])
    limit = points["limit_deg"]
    common = float(limit[0]) if np.isfinite(limit[0]) else None
    used = np.abs(points["fin_offset_deg"])
    left = None
    per_moment = answer.plan.comparison.problem.fin_angle_per_moment_deg
    if per_moment is not None:
        most = np.nan_to_num(per_moment) * points["fins_max_t_m"]
        left = np.maximum(most - np.nan_to_num(used), 0.0)
    return heel_strip(
        start,
        end,
        points["heel_without_deg"],
        points["heel_left_deg"],
        [f"leg {number}" for number in points["leg"]],
        limit_deg=common,
        offset_deg=np.nan_to_num(used),
        offset_left_deg=left,
    )


def _legs(answer: HeelAnswer) -> Table:
    judged = limit_set(answer)
    columns: list[Column | str] = [
        Column("leg", decimals=0),
        Column("name"),
        Column("list", "t m", 1, "moment behind the list observed at departure"),
        Column("burn", "t m", 1, "fuel drawn unevenly, mean of the leg"),
        Column("wind", "t m", 1, "wind of the forecast, mean of the leg"),
        Column("events", "t m", 1, "people, tenders or stores moved"),
        Column("tanks", "t m", 1, "transfers as advised"),
        Column("fins", "t m", 1, "most held by the fins as advised"),
        Column("heel before", "deg", 2, "worst of the leg, nothing done"),
        Column("heel left", "deg", 2, "worst of the leg, as advised"),
        *([Column("over limit", "h", 1, "hours above the owner's limit")] if judged else []),
        Column("GM", "m", 2, "with the free surface of slack tanks"),
        Column("price", "l", 1),
    ]
    rows: list[list[object]] = [
        [
            leg.leg,
            leg.name,
            leg.moment_list_t_m,
            leg.moment_burn_t_m,
            leg.moment_wind_t_m,
            leg.moment_events_t_m,
            leg.moment_tanks_t_m,
            leg.fins_t_m,
            leg.heel_without_worst_deg,
            leg.steady_heel_worst_deg,
            *([leg.heel_over_limit_h] if judged else []),
            leg.gm_m,
            leg.cost_l,
        ]
        for leg in answer.plan.legs
    ]
    return Table(columns, rows, "Heeling moments and heel, positive to starboard")


def _why(answer: HeelAnswer) -> Notes:
    items = []
    for leg in answer.plan.legs:
        after = f" Next best: {leg.next_best}." if leg.next_best else ""
        items.append(Note(f"{leg.action}. Why: {leg.why}.{after}", where=f"leg {leg.leg}"))
    return Notes(items, "What to do, why, and what the next best would cost")


def _policies(answer: HeelAnswer) -> Block:
    policies = answer.plan.policies
    parts: dict[str, Any] = {
        "fins and heel, fuel": [
            max(float((p.fin_drag_l + p.fin_work_l + p.heel_drag_l).sum()), 0.0) for p in policies
        ],
        "ballast and pumping, fuel": [float((p.ballast_l + p.pump_l).sum()) for p in policies],
        "crew": [float(p.crew_l.sum()) for p in policies],
        "comfort": [float((p.roll_worth_l + p.heel_worth_l).sum()) for p in policies],
    }
    return policy_chart(
        [way_words(p.name, p.moves) for p in policies],
        {name: values for name, values in parts.items() if any(values)},
        advised=len(policies) - 1,
        feasible=[answer.within(p) is not False for p in policies] if limit_set(answer) else None,
    )


def _offsets(answer: HeelAnswer) -> Table:
    from passage.planning.heel.heel import OFFSET_FRACTIONS

    columns: list[Column | str] = [
        Column("leg", decimals=0),
        Column("largest offset", "deg", 1, "offset_share of the range, up to the stall"),
    ]
    columns += [
        Column(f"{100 * f:.0f} % of it", "deg", 1, "significant roll") for f in OFFSET_FRACTIONS
    ]
    columns += [Column("at limit with none", "%", 0), Column("at limit with all", "%", 0)]
    rows: list[list[object]] = []
    for i, leg in enumerate(answer.plan.legs):
        most = largest_offset(answer, i)
        rows.append(
            [
                leg.leg,
                most,
                *(float(v) for v in answer.offset_roll_deg[i]),
                float(answer.at_limit_percent[i, 0]),
                float(answer.at_limit_percent[i, -1]),
            ]
        )
    return Table(columns, rows, "Significant roll with fins active, by offset held")


def _break_even(answer: HeelAnswer) -> list[Section]:
    curve = answer.curve
    if curve is None:
        return []
    some = np.unique(np.linspace(0, len(curve.speed_kn) - 1, _CURVES).astype(int))
    miles = sum(float(leg["distance_nm"] or 0.0) for leg in answer.legs)
    listed = abs(float(answer.points["heel_without_deg"][0]))
    inside = curve.list_deg[0] <= listed <= curve.list_deg[-1]

    def chart(miles_nm: np.ndarray, what: str, key: str) -> Block:
        return break_even_chart(
            curve.list_deg,
            [round(float(curve.speed_kn[i]), 1) for i in some],
            miles_nm[some],
            here=(listed, miles) if inside else None,
            # The curves rise without end; what lies near this passage is enough.
            top_nm=max(1.2 * miles, 100.0),
            what=what,
            key=key,
        )

    def table(miles_nm: np.ndarray, title: str) -> Table:
        return Table(
            [Column("kn", decimals=1), *(f"list {v:.2f} deg" for v in curve.list_deg)],
            [
                [float(speed), *(miles_words(float(v)) for v in miles_nm[i])]
                for i, speed in enumerate(curve.speed_kn)
            ],
            title,
        )

    blocks: list[Block] = []
    if not np.array_equal(curve.beyond_nm, curve.distance_nm, equal_nan=True):
        what = "only what is beyond the owner's limit"
        blocks += [chart(curve.beyond_nm, what, "beyond"), table(curve.beyond_nm, "Miles: " + what)]
    what = "all of the list"
    blocks += [
        chart(curve.distance_nm, what, "breakeven"),
        table(curve.distance_nm, "Miles: " + what),
    ]
    return [
        Section(
            "How far until moving liquid is cheaper",
            "Above a curve one transfer costs less than holding the list with the fins all the "
            "way; below it the fins are cheaper. Where roll alone would leave the fins centred, "
            "their hydraulics are counted. The distance is shortest at low speed and with a large "
            "list; \u201cfins cannot\u201d means that the list is more than they can hold.",
            blocks,
            short="Break-even",
            folded=True,
        )
    ]


def _changes(answer: HeelAnswer) -> Block:
    lines = [change_line(one) for one in answer.plan.changes]
    return Notes(lines or ["Nothing was varied."])


def _fin_lines(answer: HeelAnswer) -> list[Note | str]:
    return [Note(line, where=f"leg {i}") for i, line in enumerate(answer.fin_use_words, 1)]


def _basis(answer: HeelAnswer) -> list[Block]:
    origin = answer.provenance
    facts: list[tuple[str, object]] = [
        ("vessel file", f"{origin['vessel_file']} ({origin['vessel_sha256'][:12]})"),
        ("route file", origin["route_file"]),
    ]
    facts += [
        (
            "forecast",
            f"{one['file']}, {one['producer']}, run {one['run_utc'] or 'not given'} "
            f"({one['sha256'][:12]})",
        )
        for one in origin["forecasts"]
    ]
    blocks: list[Block] = [Facts(facts)]
    blocks.append(Notes([*answer.notes, *origin["methods"]], "Methods and remarks"))
    blocks.append(Notes(origin["estimated"], "Estimated, not given in the vessel file"))
    return blocks
