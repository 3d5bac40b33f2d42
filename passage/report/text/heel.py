"""The heel decision as text, CSV and JSON."""

from __future__ import annotations

import csv
import io
import json
from collections.abc import Callable
from dataclasses import asdict
from datetime import UTC, datetime
from typing import Any

import numpy as np

from passage import __version__
from passage.planning.heel.cards import Card
from passage.planning.heel.heel import OFFSET_FRACTIONS, HeelAnswer
from passage.planning.heel.options import Priced
from passage.planning.heel.tanks import TransferState
from passage.planning.heel.words import side_words, transfer_advice
from passage.planning.plan.result import SCHEMA_VERSION, plain
from passage.report.text.layout import grid, wrapped
from passage.units import utc_text

#: Distances of the break-even table are shown for these lists [deg].
_SHOWN_LISTS_DEG = (0.5, 1.0, 1.5, 2.0, 3.0)


def heel_text(answer: HeelAnswer) -> str:
    """The whole answer for the screen."""
    plan = answer.plan
    out = [
        answer.verdict,
        "",
        f"{answer.vessel_name}: {answer.route_name}, leaving {utc_text(answer.departure_s)}",
        "",
        "The ways side by side",
        _card_grid(answer),
        "",
        *(wrapped(line) for line in plan.summary),
        "",
        *_tank_tables(answer),
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
    return "\n".join(out) + "\n"


def card_rows(answer: HeelAnswer) -> list[tuple[str, list[str]]]:
    """What a master weighs, a row each, with a cell for each card."""
    rows: list[tuple[str, list[str]]] = []
    currency = answer.plan.comparison.problem.currency

    def row(label: str, cell: Callable[[Card], str]) -> None:
        cells = ["-" if card.priced is None else cell(card) for card in answer.cards]
        rows.append((label, cells))

    def priced(card: Card) -> Priced:
        assert card.priced is not None
        return card.priced

    row("litres", lambda card: f"{priced(card).total_l:.0f} l")
    if currency:
        row("money", lambda card: f"{priced(card).money or 0.0:.0f} {currency}")
    row("heel left, worst", lambda card: side_words(priced(card).worst_heel_deg))
    row(
        "worst hour",
        lambda card: "-" if card.worst_utc is None else f"{card.worst_utc}, leg {card.worst_leg}",
    )
    row(
        "over the limit",
        lambda card: (
            "never" if priced(card).within_limit else f"{priced(card).over_limit_h.sum():.1f} h"
        ),
    )
    row(
        "roll let through",
        lambda card: (
            "-" if card.roll_more_deg is None else f"{max(card.roll_more_deg, 0.0):.1f}\u00b0"
        ),
    )
    row("least GM", lambda card: "-" if card.gm_least_m is None else f"{card.gm_least_m:.2f} m")
    row("change of trim", lambda card: trim_words(card.trim_m))
    row("crew", lambda card: f"{card.crew_h or 0.0:.1f} h")
    row("tanks at arrival", lambda card: _tank_state(answer, card))
    if any(card.flip for card in answer.cards):
        row("holds unless", lambda card: card.flip or "-")
    return rows


def trim_words(trim_m: float | None) -> str:
    """A change of trim with its end."""
    if trim_m is None:
        return "not known"
    if abs(trim_m) < 0.005:
        return "none"
    return f"{abs(trim_m):.2f} m by the {'bow' if trim_m > 0.0 else 'stern'}"


def card_title(card: Card) -> str:
    """Name of a way, marked where it is the advice."""
    return f"{card.way} (advised)" if card.advised else card.way


def _tank_state(answer: HeelAnswer, card: Card) -> str:
    if card.arrival is None:
        return "-"
    tanks = answer.plan.comparison.problem.tanks
    start = [tank.content_m3 for tank in tanks]
    parts = [
        f"{tank.name} {now:.1f}"
        for tank, now, then in zip(tanks, card.arrival.content_m3, start, strict=True)
        if abs(now - then) > 0.05
    ]
    return ", ".join(parts) + " m3" if parts else "as at departure"


def _card_grid(answer: HeelAnswer) -> str:
    headings = ["", *(card_title(card) for card in answer.cards)]
    rows = [
        [label, *cells]
        for label, cells in card_rows(answer)
        if label not in ("tanks at arrival", "holds unless")
    ]
    text = grid(headings, rows, {0})
    more = []
    for card in answer.cards:
        words = card.why_not or card.does
        more.append(wrapped(f"{card.way}: {words}."))
    return "\n".join([text, "", *more])


def tank_table(answer: HeelAnswer, state: TransferState) -> tuple[list[str], list[list[str]]]:
    """Before and after a transfer: headings and rows, to be signed."""
    tanks = answer.plan.comparison.problem.tanks
    before, after = state.before, state.after
    rows = [
        [tank.name, f"{b:.2f}", f"{a - b:+.2f}" if abs(a - b) > 5e-3 else "", f"{a:.2f}"]
        for tank, b, a in zip(tanks, before.content_m3, after.content_m3, strict=True)
    ]

    def pair(label: str, b: float | None, a: float | None, digits: int, sign: str = "") -> None:
        if b is None or a is None:
            rows.append([label, "not known", "", "not known"])
        else:
            rows.append(
                [
                    label,
                    f"{b:{sign}.{digits}f}",
                    f"{a - b:+.{digits}f}",
                    f"{a:{sign}.{digits}f}",
                ]
            )

    pair("displacement, t", before.displacement_t, after.displacement_t, 1)
    pair("fluid GM, m", before.gm_m, after.gm_m, 3)
    pair("list, deg (+ starboard)", before.list_deg, after.list_deg, 2, "+")
    pair("trim, m (+ by the bow)", before.trim_m, after.trim_m, 3, "+")
    pair("draught forward, m", before.draught_fore_m, after.draught_fore_m, 2)
    pair("draught aft, m", before.draught_aft_m, after.draught_aft_m, 2)
    rows.append(["least fluid GM while pumping, m", "", "", f"{state.gm_pumping_m:.3f}"])
    return ["tank, m3", "before", "moved", "after"], rows


def advised_transfers(answer: HeelAnswer) -> tuple[TransferState, ...]:
    """The transfers of the advice with the state on both sides."""
    for card in answer.cards:
        if card.advised:
            return card.transfers
    return ()


def _tank_tables(answer: HeelAnswer) -> list[str]:
    out: list[str] = []
    for state in advised_transfers(answer):
        headings, rows = tank_table(answer, state)
        out += [
            f"Before and after the transfer before leg {state.leg}",
            grid(headings, rows, {0}),
            "ordered .................. sounded before ........ after ........ signed ..........",
            "",
        ]
    return out


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
                "never"
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
        "cards": [_card_dict(answer, card) for card in answer.cards],
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
            }
            for change in plan.changes
        ],
        "fin_use": list(answer.fin_use_words),
        "cautions": [asdict(caution) for caution in answer.cautions],
        "notes": list(answer.notes),
        "provenance": answer.provenance,
    }
    return dict(plain(made))


def _card_dict(answer: HeelAnswer, card: Card) -> dict[str, Any]:
    priced = card.priced
    return {
        "way": card.way,
        "advised": card.advised,
        "does": card.does or None,
        "why_not": card.why_not or None,
        "total_l": None if priced is None else priced.total_l,
        "money": None if priced is None else priced.money,
        "heel_left_worst_deg": None if priced is None else priced.worst_heel_deg,
        "worst_leg": card.worst_leg,
        "worst_utc": card.worst_utc,
        "heel_over_limit_h": None if priced is None else priced.over_limit_h.sum(),
        "roll_more_deg": card.roll_more_deg,
        "gm_least_m": card.gm_least_m,
        "trim_m": card.trim_m,
        "crew_h": card.crew_h,
        "arrival": None if card.arrival is None else asdict(card.arrival),
        "transfers": [
            {
                "before_leg": state.leg,
                "before": asdict(state.before),
                "after": asdict(state.after),
                "gm_pumping_m": state.gm_pumping_m,
            }
            for state in card.transfers
        ],
        "tanks": [tank.name for tank in answer.plan.comparison.problem.tanks],
        "holds_unless": card.flip or None,
    }


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
