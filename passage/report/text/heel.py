"""The heel decision for the screen."""

from __future__ import annotations

import numpy as np

from passage.planning.heel.heel import OFFSET_FRACTIONS, HeelAnswer
from passage.planning.heel.options import OVER_L
from passage.planning.heel.sensitivity import Change
from passage.planning.heel.words import way_words
from passage.report.text.heel_cards import card_lines, over_words, tank_tables
from passage.report.text.heel_chances import chance_lines, limit_set
from passage.report.text.layout import Layout, TextColumn, fitted, grid, paragraph, wrapped
from passage.report.text.standing import caution_lines, standing_lines, title_line
from passage.report.text.verdict import verdict_lines
from passage.report.text.verdict_heel import heel_verdict
from passage.units import utc_text

#: Distances of the break-even table are shown for these lists [deg].
_SHOWN_LISTS_DEG = (0.5, 1.0, 1.5, 2.0, 3.0)


def heel_text(answer: HeelAnswer, layout: Layout = Layout()) -> str:  # noqa: B008 - frozen
    """The answer for the screen: verdict, ways side by side, tanks, legs, what would change it.

    With ``verbose`` also its details; with ``quiet`` only the verdict and the ways.
    """
    plan, width = answer.plan, layout.width
    title = f"{answer.vessel_name}: {answer.route_name}, leaving {utc_text(answer.departure_s)}"
    out = [
        title_line(title, answer.cautions, layout),
        "",
        *verdict_lines(heel_verdict(answer), layout),
    ]
    if "zone" in answer.provenance:
        out += ["", *paragraph(answer.notes[0], width).split("\n")]
    out += ["", "The ways side by side", *card_lines(answer, layout)]
    if layout.quiet:
        return "\n".join([*out, *standing_lines(layout)]) + "\n"
    out += ["", *(wrapped(line, width) for line in plan.summary)]
    changes = [
        wrapped(change_line(one), width)
        for one in plan.changes
        if layout.verbose or one.verdict == "other advice"
    ]
    if changes:
        out += ["", "What would change the advice", *changes]
    out += chance_lines(answer, layout)
    out += tank_tables(answer, layout)
    out += ["", "Leg by leg"]
    for advice in plan.legs:
        more = f" Next best: {advice.next_best}." if advice.next_best else ""
        words = f"leg {advice.leg}, {advice.name}: {advice.action}. Why: {advice.why}.{more}"
        out.append(wrapped(words, width))
    out += ["", "Moments in t m (means of the leg, the fins' the largest), heel the worst in deg"]
    out += _leg_lines(answer, layout)
    cautions = caution_lines(answer.cautions, layout)
    if cautions:
        out += ["", "Cautions, worst first (! a warning)", *cautions]
    if layout.verbose:
        out += _details(answer, layout)
    else:
        out += ["", "Every way in litres, roll by offset, break-even and notes: --verbose."]
    return "\n".join([*out, *standing_lines(layout)]) + "\n"


def _details(answer: HeelAnswer, layout: Layout) -> list[str]:
    """Policies, roll by offset, break-even, fin use and notes, for ``--verbose``."""
    out = ["", "Policies, litres over the passage", *_policy_lines(answer, layout)]
    out += ["", "Roll with the fins' offset (significant, deg; share of time at the limit)"]
    out += _offset_lines(answer, layout)
    if answer.curve is not None:
        curve = answer.curve
        out += ["", "Miles after which moving liquid once is cheaper than fins"]
        if not np.array_equal(curve.beyond_nm, curve.distance_nm, equal_nan=True):
            out += ["only what is beyond the owner's limit:", _curve_grid(answer, curve.beyond_nm)]
        out += ["all of the list:", _curve_grid(answer, curve.distance_nm)]
    out += ["", "Fins at work or centred"]
    out += [
        wrapped(f"leg {i}: {line}", layout.width) for i, line in enumerate(answer.fin_use_words, 1)
    ]
    if answer.notes:
        out += ["", "Notes", *(wrapped(note, layout.width) for note in answer.notes)]
    return out


def change_line(change: Change) -> str:
    """Whether the advice holds under one change, and what is then best."""
    line = f"{change.what}: {change.verdict}; best then {change.best_paid_l:,.0f} l"
    if change.verdict == "other advice":
        line = f"{change.what}: {change.words}"
    if change.kept_leans_more:
        line += ", keeping to this advice leaves more heel over the owner's limit"
    elif change.regret_l is not None and change.regret_l > 0.5:
        line += f", keeping to this advice costs {change.regret_l:,.0f} l more"
    if change.open_l > 0.5:
        less = f"up to {change.open_l:,.0f} l less is possible"
        if change.best_charge_l > OVER_L:
            less = "others may leave less heel over the limit"
        line += f" (not searched to the end: {less})"
    return f"{line}."


def signed(value: float, digits: int) -> str:
    """A number with its sign; 0 has none."""
    rounded = round(value, digits)
    return f"{rounded:+.{digits}f}" if rounded else f"{0.0:.{digits}f}"


def _leg_lines(answer: HeelAnswer, layout: Layout) -> list[str]:
    judged = limit_set(answer)
    over = [TextColumn("h over", 1, meaning="hours over the owner's limit")] if judged else []
    columns = [
        TextColumn("leg"),
        TextColumn("hours", 2),
        TextColumn("list", 1, meaning="seen at departure"),
        TextColumn("burn", 1, meaning="fuel drawn unevenly"),
        TextColumn("wind", 1),
        TextColumn("events", 4, meaning="people, tenders, stores moved"),
        TextColumn("tanks", 1, meaning="transfers as advised"),
        TextColumn("fins", 1, meaning="held by them as advised"),
        TextColumn("heel before", meaning="nothing done, + to starboard"),
        TextColumn("heel left", meaning="as advised"),
        *over,
        TextColumn("offset", 2, meaning="mean fin angle, deg"),
        TextColumn("GM m", 3, meaning="free surface taken off"),
        TextColumn("litres", meaning="price of the leg"),
    ]
    rows = []
    for leg in answer.plan.legs:
        offset = "-" if leg.fin_offset_deg is None else signed(leg.fin_offset_deg, 1)
        rows.append(
            [
                str(leg.leg),
                f"{leg.hours:.1f}",
                signed(leg.moment_list_t_m, 1),
                signed(leg.moment_burn_t_m, 1),
                signed(leg.moment_wind_t_m, 1),
                signed(leg.moment_events_t_m, 1),
                signed(leg.moment_tanks_t_m, 1),
                signed(leg.fins_t_m, 1),
                signed(leg.heel_without_worst_deg, 2),
                signed(leg.steady_heel_worst_deg, 2),
                *([f"{leg.heel_over_limit_h:.1f}"] if judged else []),
                offset,
                f"{leg.gm_m:.2f}",
                f"{leg.cost_l:.1f}",
            ]
        )
    return fitted(columns, rows, layout)


def _policy_lines(answer: HeelAnswer, layout: Layout) -> list[str]:
    columns = [
        TextColumn("policy", left=True),
        TextColumn("fuel", 1, meaning="burnt for the heel"),
        TextColumn("crew", 1, meaning="their time, in litres"),
        TextColumn("comfort", 2, meaning="what roll and heel are worth to the owner, in litres"),
        TextColumn("total"),
        TextColumn("money", 1, meaning="the total at the price of fuel"),
        TextColumn("worst heel", meaning="deg, + to starboard"),
        TextColumn("h over limit", meaning="hours over the owner's limit of heel"),
    ]
    rows = []
    for one in answer.plan.policies:
        money = one.money
        rows.append(
            [
                way_words(one.name, one.moves),
                f"{one.fuel_l:,.1f}",
                f"{one.crew_l.sum():.1f}",
                f"{(one.roll_worth_l + one.heel_worth_l).sum():.1f}",
                f"{one.total_l:,.1f}",
                "-" if money is None else f"{money:,.0f}",
                f"{one.worst_heel_deg:+.2f}",
                "-" if not limit_set(answer) else over_words(answer, one, ""),
            ]
        )
    return fitted(columns, rows, layout)


def _offset_lines(answer: HeelAnswer, layout: Layout) -> list[str]:
    most = "most that the fins can give, part of their range left for roll"
    columns = [TextColumn("leg"), TextColumn("largest offset", meaning=most)]
    columns += [TextColumn(f"{100 * f:.0f} % of it") for f in OFFSET_FRACTIONS]
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
    return fitted(columns, rows, layout)


def largest_offset(answer: HeelAnswer, leg: int) -> float | None:
    """Largest offset that the fins can hold all through a leg [deg]; None for none."""
    problem = answer.plan.comparison.problem
    per_moment = problem.fin_angle_per_moment_deg
    here = (problem.leg_of == leg) & (problem.fin_moment_max_t_m > 0.0)
    if per_moment is None or not np.any(here):
        return None
    return float(np.min((per_moment * problem.fin_moment_max_t_m)[here]))


def miles_words(miles: float) -> str:
    """Miles of the break-even; "fins cannot" for NaN, "never" for infinite."""
    if np.isnan(miles):
        return "fins cannot"
    if np.isinf(miles):
        return "never"
    return f"{miles:.0f}" if miles >= 10.0 else f"{miles:.1f}"


def _curve_grid(answer: HeelAnswer, miles_nm: np.ndarray) -> str:
    curve = answer.curve
    assert curve is not None
    columns = [int(np.argmin(np.abs(curve.list_deg - value))) for value in _SHOWN_LISTS_DEG]
    headings = ["kn", *(f"list {curve.list_deg[j]:.1f}" for j in columns)]
    rows = [
        [f"{speed:.1f}", *(miles_words(float(miles_nm[i, j])) for j in columns)]
        for i, speed in enumerate(curve.speed_kn)
    ]
    return grid(headings, rows, set())
