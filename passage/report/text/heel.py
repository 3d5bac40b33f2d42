"""The heel decision as text, CSV and JSON."""

from __future__ import annotations

import csv
import io
import json
from dataclasses import asdict
from datetime import UTC, datetime
from typing import Any

import numpy as np

from passage import __version__
from passage.planning.heel.heel import OFFSET_FRACTIONS, HeelAnswer
from passage.planning.heel.words import transfer_advice
from passage.planning.plan.result import SCHEMA_VERSION, plain
from passage.report.text.heel_cards import card_dict, card_grid, tank_tables
from passage.report.text.layout import Layout, grid, wrapped
from passage.report.text.standing import standing_lines
from passage.report.text.verdict import verdict_lines
from passage.report.text.verdict_heel import heel_verdict, limit_set
from passage.units import utc_text

#: Distances of the break-even table are shown for these lists [deg].
_SHOWN_LISTS_DEG = (0.5, 1.0, 1.5, 2.0, 3.0)


def heel_text(answer: HeelAnswer) -> str:
    """The whole answer for the screen."""
    plan = answer.plan
    out = [
        f"{answer.vessel_name}: {answer.route_name}, leaving {utc_text(answer.departure_s)}",
        "",
        *verdict_lines(heel_verdict(answer), Layout()),
        "",
        "The ways side by side",
        card_grid(answer),
        "",
        *(wrapped(line) for line in plan.summary),
        "",
        *tank_tables(answer),
        "By leg (moments are means, the fins' the largest; heel the worst of the leg)",
        _leg_grid(answer),
        "",
    ]
    for advice in plan.legs:
        out.append(wrapped(f"leg {advice.leg}, {advice.name}: {advice.action}. {advice.why}"))
        if advice.next_best:
            out.append(f"    Next best: {advice.next_best}")
    out += ["", "Policies, litres over the passage", _policy_grid(answer)]
    out += ["", "Roll with the fins' offset (significant, deg; share of time at the limit)"]
    out.append(_offset_grid(answer))
    if answer.curve is not None:
        out += [
            "",
            "Miles after which moving liquid once is cheaper than fins",
            "(all of the list / only what is beyond the owner's limit)",
            _curve_grid(answer),
        ]
    if plan.changes:
        out += ["", "What would change the advice"]
        out += [wrapped(line) for line in change_lines(answer)]
    out += ["", "Fins at work or centred"]
    out += [wrapped(f"leg {i}: {line}") for i, line in enumerate(answer.fin_use_words, 1)]
    if answer.notes:
        out += ["", "Notes"]
        out += [wrapped(note) for note in answer.notes]
    out += ["", "Cautions"]
    for caution in answer.cautions:
        out.append(wrapped(caution.text))
    return "\n".join([*out, *standing_lines(Layout())]) + "\n"


def change_lines(answer: HeelAnswer) -> list[str]:
    """One line a variation: does the advice stand?"""
    lines = []
    for change in answer.plan.changes:
        line = f"{change.what}: {change.verdict}; best then {change.best_paid_l:.0f} l"
        if change.verdict == "other advice":
            line = f"{change.what}: {change.verdict}: {change.words}"
        if change.kept_leans_more:
            line += ", keeping to this advice leaves more heel over the owner's limit"
        elif change.regret_l is not None and change.regret_l > 0.5:
            line += f", keeping to this advice costs {change.regret_l:.0f} l more"
        if change.open_l > 0.5:
            line += f" (not searched to the end: up to {change.open_l:.0f} l less is possible)"
        lines.append(line + ".")
    return lines


def _leg_grid(answer: HeelAnswer) -> str:
    headings = [
        "leg",
        "hours",
        "list t m",
        "burn",
        "wind",
        "events",
        "tanks",
        "fins",
        "heel before",
        "heel left",
        "h over",
        "offset",
        "GM m",
        "litres",
    ]
    rows = []
    for leg in answer.plan.legs:
        offset = "-" if leg.fin_offset_deg is None else f"{leg.fin_offset_deg:+.1f}"
        rows.append(
            [
                str(leg.leg),
                f"{leg.hours:.1f}",
                f"{leg.moment_list_t_m:+.1f}",
                f"{leg.moment_burn_t_m:+.1f}",
                f"{leg.moment_wind_t_m:+.1f}",
                f"{leg.moment_events_t_m:+.1f}",
                f"{leg.moment_tanks_t_m:+.1f}",
                f"{leg.fins_t_m:+.1f}",
                f"{leg.heel_without_worst_deg:+.2f}",
                f"{leg.steady_heel_worst_deg:+.2f}",
                f"{leg.heel_over_limit_h:.1f}",
                offset,
                f"{leg.gm_m:.2f}",
                f"{leg.cost_l:.1f}",
            ]
        )
    return grid(headings, rows, set())


def _policy_grid(answer: HeelAnswer) -> str:
    headings = ["policy", "fuel", "crew", "comfort", "total", "money", "worst heel", "over limit"]
    rows = []
    for one in answer.plan.policies:
        money = one.money
        rows.append(
            [
                one.name,
                f"{one.fuel_l:.1f}",
                f"{one.crew_l.sum():.1f}",
                f"{(one.roll_worth_l + one.heel_worth_l).sum():.1f}",
                f"{one.total_l:.1f}",
                "-" if money is None else f"{money:.0f}",
                f"{one.worst_heel_deg:+.2f}",
                "-"
                if not limit_set(answer)
                else "never"
                if one.within_limit
                else f"{one.over_limit_h.sum():.1f} h, leg "
                + ", ".join(map(str, one.legs_over_limit)),
            ]
        )
    return grid(headings, rows, {0, 7})


def _offset_grid(answer: HeelAnswer) -> str:
    headings = ["leg", "largest offset"] + [f"{100 * f:.0f} % of it" for f in OFFSET_FRACTIONS]
    rows = []
    for i, leg in enumerate(answer.plan.legs):
        angle = largest_offset(answer, i)
        cells = [
            "-" if np.isnan(roll) else f"{roll:.1f} ({limit:.0f} %)"
            for roll, limit in zip(
                answer.offset_roll_deg[i], answer.at_limit_percent[i], strict=True
            )
        ]
        rows.append([str(leg.leg), "-" if angle is None else f"{angle:.1f} deg", *cells])
    return grid(headings, rows, set())


def largest_offset(answer: HeelAnswer, leg: int) -> float | None:
    problem = answer.plan.comparison.problem
    per_moment = problem.fin_angle_per_moment_deg
    here = (problem.leg_of == leg) & (problem.fin_moment_max_t_m > 0.0)
    if per_moment is None or not np.any(here):
        return None
    return float(np.min((per_moment * problem.fin_moment_max_t_m)[here]))


def miles_words(miles: float) -> str:
    """Miles of the break-even, in words where there are none."""
    if np.isnan(miles):
        return "fins cannot"
    if np.isinf(miles):
        return "never"
    return f"{miles:.0f}" if miles >= 10.0 else f"{miles:.1f}"


def _curve_grid(answer: HeelAnswer) -> str:
    curve = answer.curve
    assert curve is not None
    columns = [int(np.argmin(np.abs(curve.list_deg - value))) for value in _SHOWN_LISTS_DEG]
    headings = ["kn", *(f"list {curve.list_deg[j]:.1f}" for j in columns)]
    rows = [
        [
            f"{speed:.1f}",
            *(
                f"{miles_words(float(curve.distance_nm[i, j]))} / "
                f"{miles_words(float(curve.beyond_nm[i, j]))}"
                for j in columns
            ),
        ]
        for i, speed in enumerate(curve.speed_kn)
    ]
    return grid(headings, rows, set())


def heel_dict(answer: HeelAnswer) -> dict[str, Any]:
    """The answer as plain dicts and lists; ``null`` for missing, "never" has no number."""
    plan = answer.plan
    times = answer.points["time_s"]
    curve = None
    if answer.curve is not None:
        curve = {
            "speed_kn": answer.curve.speed_kn,
            "list_deg": answer.curve.list_deg,
            "distance_nm": answer.curve.distance_nm,
            "hours": answer.curve.hours,
            "beyond_limit_nm": answer.curve.beyond_nm,
            "fins_never_dearer": np.isinf(answer.curve.distance_nm),
        }
    made = {
        "schema_version": SCHEMA_VERSION,
        "passage_version": __version__,
        "created_utc": datetime.now(UTC).strftime("%Y-%m-%dT%H:%MZ"),
        "vessel": answer.vessel_name,
        "route": answer.route_name,
        "departure_utc": utc_text(answer.departure_s),
        "verdict": answer.verdict,
        "summary": list(plan.summary),
        "legs": [asdict(leg) for leg in plan.legs],
        "policies": [
            {
                "name": one.name,
                "fuel_l": one.fuel_l,
                "crew_l": one.crew_l.sum(),
                "comfort_l": (one.roll_worth_l + one.heel_worth_l).sum(),
                "total_l": one.total_l,
                "money": one.money,
                "advised": one is plan.plan,
                "within_limit": one.within_limit,
                "legs_over_limit": list(one.legs_over_limit),
                "heel_left_worst_deg": one.worst_heel_deg,
                "heel_over_limit_h": one.over_limit_h.sum(),
                "fins_rule": one.rule,
                "fuel_fins_offset_l": one.fin_drag_l.sum(),
                "fuel_fins_work_l": one.fin_work_l.sum(),
                "fuel_list_l": one.heel_drag_l.sum(),
                "fuel_ballast_l": one.ballast_l.sum(),
                "passage_fuel_l": one.passage_fuel_l,
                "lost_h_at_held_fuel": one.lost_h,
                "lost_nm_at_held_fuel": one.lost_nm,
                "steady_heel_worst_deg": one.leg_worst_deg(),
                "leg_l": one.leg_l,
                "moves": [
                    asdict(transfer_advice(plan.comparison.problem, move)) for move in one.moves
                ],
            }
            for one in plan.policies
        ],
        "proven_optimal": plan.comparison.sequence.proven,
        "gap_l": plan.comparison.sequence.gap_l,
        "cards": [card_dict(answer, card) for card in answer.cards],
        "holds_unless": None if plan.flip is None else plan.flip.words,
        "points": {
            "time_utc": [utc_text(float(t)) if np.isfinite(t) else None for t in times],
            **{name: values for name, values in answer.points.items() if name != "time_s"},
        },
        "offset": {
            "fractions": list(OFFSET_FRACTIONS),
            "roll_significant_deg": answer.offset_roll_deg,
            "at_limit_percent": answer.at_limit_percent,
        },
        "break_even": curve,
        "changes": [
            {
                "what": change.what,
                "verdict": change.verdict,
                "best": change.words,
                "best_l": change.best_paid_l,
                "kept_l": change.kept_paid_l,
                "kept_leans_more": change.kept_leans_more,
                "not_searched_l": change.open_l,
            }
            for change in plan.changes
        ],
        "fin_use": list(answer.fin_use_words),
        "cautions": [asdict(caution) for caution in answer.cautions],
        "notes": list(answer.notes),
        "provenance": answer.provenance,
    }
    return dict(plain(made))


def heel_json(answer: HeelAnswer) -> str:
    """The answer as JSON text."""
    return json.dumps(heel_dict(answer), indent=2, ensure_ascii=False, allow_nan=False) + "\n"


def heel_csv(answer: HeelAnswer) -> str:
    """One row a leg."""
    buffer = io.StringIO()
    writer = csv.writer(buffer, lineterminator="\n")
    rows = [asdict(leg) for leg in answer.plan.legs]
    names = [name for name in rows[0] if name != "transfers"]
    writer.writerow(names)
    for row in rows:
        writer.writerow(["" if row[name] is None else row[name] for name in names])
    return buffer.getvalue()
