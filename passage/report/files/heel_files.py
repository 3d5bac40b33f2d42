"""The heel decision as JSON and CSV."""

from __future__ import annotations

import csv
import io
import json
from dataclasses import asdict
from datetime import UTC, datetime
from typing import Any

import numpy as np

from passage import __version__
from passage.planning.heel.headline import paid_words
from passage.planning.heel.heel import OFFSET_FRACTIONS, HeelAnswer
from passage.planning.heel.words import transfer_advice
from passage.planning.plan.result import SCHEMA_VERSION, plain
from passage.report.text.heel_cards import card_dict, paid_money
from passage.report.text.heel_chances import chances_dict
from passage.report.text.verdict_heel import heel_verdict
from passage.units import utc_text


def heel_dict(answer: HeelAnswer) -> dict[str, Any]:
    """The answer as plain dicts and lists; None for missing and for "never"."""
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
    verdict = heel_verdict(answer).as_dict()
    if verdict["price"] is None:
        verdict["price"] = f"{paid_words(plan.comparison, answer.hold)}."
    made = {
        "schema_version": SCHEMA_VERSION,
        "passage_version": __version__,
        "created_utc": datetime.now(UTC).strftime("%Y-%m-%dT%H:%MZ"),
        "verdict": verdict,
        "vessel": answer.vessel_name,
        "route": answer.route_name,
        "departure_utc": utc_text(answer.departure_s),
        "summary": list(plan.summary),
        "legs": [asdict(leg) for leg in plan.legs],
        "policies": [
            {
                "name": one.name,
                "fuel_l": one.fuel_l,
                "crew_l": one.crew_l.sum(),
                "comfort_l": (one.roll_worth_l + one.heel_worth_l).sum(),
                "total_l": one.paid_l(answer.hold),
                "money": paid_money(answer, one),
                "advised": one is plan.plan,
                "within_limit": answer.within(one),
                "legs_over_limit": list(one.known_legs_over),
                "heel_left_worst_deg": one.worst_heel_deg,
                "heel_over_limit_h": one.known_over_h.sum(),
                "fins_rule": one.rule,
                "fins": "needed",
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
        "odds": chances_dict(answer.chances),
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
    """The answer as CSV text, a row for each leg."""
    buffer = io.StringIO()
    writer = csv.writer(buffer, lineterminator="\n")
    rows = [asdict(leg) for leg in answer.plan.legs]
    names = [name for name in rows[0] if name != "transfers"]
    writer.writerow(names)
    for row in rows:
        writer.writerow(["" if row[name] is None else row[name] for name in names])
    return buffer.getvalue()
