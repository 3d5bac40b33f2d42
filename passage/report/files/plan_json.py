"""A plan as JSON, to the contract in docs/outputs.md: ``null`` for missing, never NaN."""

from __future__ import annotations

import json
from dataclasses import asdict
from datetime import UTC, datetime
from typing import Any

from passage import __version__
from passage.planning.plan.result import SCHEMA_VERSION, PlannedPassage, plain
from passage.report.text.verdict_plan import plan_verdict
from passage.units import utc_text


def plan_dict(plan: PlannedPassage) -> dict[str, Any]:
    """The plan as plain dicts, lists, strings, numbers and None."""
    return {
        "schema_version": SCHEMA_VERSION,
        "passage_version": __version__,
        "created_utc": datetime.now(UTC).strftime("%Y-%m-%dT%H:%MZ"),
        "verdict": plan_verdict(plan).as_dict(),
        "vessel": plan.vessel_name,
        "route": plan.route_name,
        "departure_utc": utc_text(plan.departure_s),
        "provenance": plain(plan.provenance),
        "legs": [plain(leg) for leg in plan.legs],
        "totals": plain(plan.totals),
        "tanks": [plain(row) for row in plan.tanks],
        "cautions": [plain(asdict(caution)) for caution in plan.cautions],
        "decisions": [plain(decision) for decision in plan.decisions],
        "notes": list(plan.notes),
    }


def plan_json(plan: PlannedPassage) -> str:
    """The plan as JSON text."""
    return json.dumps(plan_dict(plan), indent=2, ensure_ascii=False, allow_nan=False) + "\n"
