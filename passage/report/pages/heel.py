"""The heel decision as a self-contained HTML page."""

from __future__ import annotations

from datetime import datetime
from typing import Any

import numpy as np

from passage.planning.heel.heel import HeelAnswer
from passage.planning.heel.options import Priced
from passage.report.drawing.blocks import (
    Block,
    Column,
    Facts,
    Figure,
    Figures,
    Note,
    Notes,
    Section,
    Table,
)
from passage.report.drawing.charts_heel import break_even_chart, heel_strip, policy_chart
from passage.report.pages.page import render_page
from passage.report.text.heel import change_lines, miles_words
from passage.units import utc_text

#: Speeds drawn in the break-even chart; the table under it has them all.
_CURVES = 4


def heel_page(answer: HeelAnswer) -> str:
    """The page as text."""
    sections = [
        Section("The advice", blocks=[_figures(answer), _notes(answer)], short="Advice"),
        Section("Leg by leg", blocks=[_strip(answer), _legs(answer), _why(answer)], short="Legs"),
        Section(
            "What each way costs",
            "Litres over the whole passage: fuel burnt, crew time at the fuel price, and what the "
            "owner said comfort is worth.",
            [_policies(answer)],
            short="Price",
        ),
        Section("What the offset does to roll", blocks=[_offsets(answer)], short="Roll"),
        *_break_even(answer),
        Section("What would change the advice", blocks=[_changes(answer)], short="Doubt"),
        Section("Fins at work or centred", blocks=[Notes(_fin_lines(answer))], short="Fins"),
        Section("What this rests on", blocks=_basis(answer), short="Basis"),
    ]
    return render_page(
        f"{answer.vessel_name}: heel",
        sections,
        subtitle=f"{answer.route_name}, leaving {utc_text(answer.departure_s)}",
    )


def _figures(answer: HeelAnswer) -> Figures:
    plan = answer.plan.plan
    never, all_fins = answer.plan.policies[0], answer.plan.policies[1]

    def figure(label: str, one: Priced, under: str) -> Figure:
        severity = "note" if one.within_limit else "limit"
        word = (
            ""
            if one.within_limit
            else "over the limit: leg " + ", ".join(map(str, one.legs_over_limit))
        )
        return Figure(label, f"{one.total_l:.0f}", "l", word or under, severity)

    moves = len(plan.moves)
    words = f"{moves} transfer{'s' if moves != 1 else ''}" if moves else "no transfer"
    return Figures(
        [
            figure("As advised", plan, words),
            figure("Fins hold all", all_fins, "no transfer"),
            figure("Never correct", never, "within the limit"),
        ],
        sentence=answer.plan.summary[0] if answer.plan.summary else "",
    )


def _notes(answer: HeelAnswer) -> Notes:
    severity = {"warning": "limit", "caution": "caution"}
    items = [Note(line) for line in answer.plan.summary[1:]]
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


def _strip(answer: HeelAnswer) -> Block:
    legs, plan = answer.legs, answer.plan
    start = np.array([_seconds(leg["etd_utc"]) for leg in legs])
    end = np.array([_seconds(leg["eta_utc"]) for leg in legs])
    if not (np.isfinite(start).all() and np.isfinite(end).all()):
        return Notes([Note("Not all times are known, so heel is not drawn over time.", "caution")])
    limit = plan.comparison.problem.limit_deg
    common = float(limit[0]) if np.all(limit == limit[0]) and np.isfinite(limit[0]) else None
    used = np.array([abs(leg.fin_offset_deg or 0.0) for leg in plan.legs])
    per_moment = plan.comparison.problem.fin_angle_per_moment_deg
    left = None
    if per_moment is not None:
        most = np.nan_to_num(per_moment) * plan.comparison.problem.fin_moment_max_t_m
        left = np.maximum(most - used, 0.0)
    return heel_strip(
        start,
        end,
        [leg.heel_without_deg for leg in plan.legs],
        [leg.heel_left_deg for leg in plan.legs],
        [leg.name for leg in plan.legs],
        limit_deg=common,
        offset_deg=used,
        offset_left_deg=left,
    )


def _legs(answer: HeelAnswer) -> Table:
    columns: list[Column | str] = [
        Column("leg", decimals=0),
        Column("name"),
        Column("list", "t m", 1, "moment behind the list observed at departure"),
        Column("burn", "t m", 1, "fuel drawn unevenly"),
        Column("wind", "t m", 1, "wind of the forecast, mean of the leg"),
        Column("events", "t m", 1, "people, tenders or stores moved"),
        Column("tanks", "t m", 1, "transfers as advised"),
        Column("fins", "t m", 1, "held by the fins as advised"),
        Column("heel before", "deg", 2),
        Column("heel after", "deg", 2),
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
            leg.heel_without_deg,
            leg.heel_left_deg,
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
        "fins and heel, fuel": [float((p.fin_drag_l + p.heel_drag_l).sum()) for p in policies],
        "ballast and pumping, fuel": [float((p.ballast_l + p.pump_l).sum()) for p in policies],
        "crew": [float(p.crew_l.sum()) for p in policies],
        "comfort": [float((p.roll_worth_l + p.heel_worth_l).sum()) for p in policies],
    }
    return policy_chart(
        [p.name for p in policies],
        {name: values for name, values in parts.items() if any(values)},
        advised=len(policies) - 1,
        feasible=[p.within_limit for p in policies],
    )


def _offsets(answer: HeelAnswer) -> Table:
    from passage.planning.heel.heel import OFFSET_FRACTIONS

    problem = answer.plan.comparison.problem
    columns: list[Column | str] = [
        Column("leg", decimals=0),
        Column("largest offset", "deg", 1, "fin range less what roll needs, at most 60 %"),
    ]
    columns += [
        Column(f"{100 * f:.0f} % of it", "deg", 1, "significant roll") for f in OFFSET_FRACTIONS
    ]
    columns += [Column("at limit with none", "%", 0), Column("at limit with all", "%", 0)]
    rows: list[list[object]] = []
    for i, leg in enumerate(answer.plan.legs):
        per_moment = problem.fin_angle_per_moment_deg
        most = None
        if per_moment is not None and problem.fin_moment_max_t_m[i] > 0.0:
            most = float(per_moment[i] * problem.fin_moment_max_t_m[i])
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
    listed = abs(answer.plan.legs[0].heel_without_deg)
    chart = break_even_chart(
        curve.list_deg,
        [round(float(curve.speed_kn[i]), 1) for i in some],
        curve.distance_nm[some],
        here=(listed, miles) if curve.list_deg[0] <= listed <= curve.list_deg[-1] else None,
        # Beyond a thousand miles the answer is "fins" for any passage here.
        top_nm=max(1.2 * miles, 100.0),
    )
    table = Table(
        [Column("kn", decimals=1), *(f"list {v:.2f}\N{DEGREE SIGN}" for v in curve.list_deg)],
        [
            [float(speed), *(miles_words(float(v)) for v in curve.distance_nm[i])]
            for i, speed in enumerate(curve.speed_kn)
        ],
        "Miles at every speed",
    )
    return [
        Section(
            "How far until moving liquid is cheaper",
            "Above a curve one transfer costs less than holding the list with the fins all the "
            "way; below it the fins are cheaper. A slow yacht and a large list flip it soonest; "
            "\u201cfins cannot\u201d where the list is more than they can hold.",
            [chart, table],
            short="Break-even",
        )
    ]


def _changes(answer: HeelAnswer) -> Block:
    lines = change_lines(answer)
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
