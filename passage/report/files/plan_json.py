"""A plan as JSON, to the contract in docs/plan.md: ``null`` for missing, never NaN."""

from __future__ import annotations

import json
from dataclasses import asdict
from datetime import UTC, datetime
from typing import Any

from passage import __version__
from passage.inputs.records.plan_file import TRACK_COLUMNS
from passage.planning.plan.result import SCHEMA_VERSION, PlannedPassage, plain
from passage.report.text.verdict_plan import plan_verdict
from passage.units import utc_text

_TRACK = "track"


def plan_dict(plan: PlannedPassage, *, track: bool = True) -> dict[str, Any]:
    """The plan as plain dicts, lists, strings, numbers and None.

    ``track`` adds the points along the track and the text of the vessel file, which
    `passage review` needs.
    """
    data: dict[str, Any] = {
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
        "limits": [plain(row) for row in plan.judged],
        "tanks": [plain(row) for row in plan.tanks],
        "fin_loop": [plain(row) for row in plan.fin_loop],
        "cautions": [plain(asdict(caution)) for caution in plan.cautions],
        "decisions": [plain(decision) for decision in plan.decisions],
        "notes": list(plan.notes),
    }
    if track:
        data[_TRACK] = _track(plan)
        data["vessel_text"] = plan.vessel_text or None
    return data


def _track(plan: PlannedPassage) -> dict[str, Any]:
    columns = {name: plain(plan.points[name]) for name in TRACK_COLUMNS if name in plan.points}
    for name, ends in zip(("end_lat_deg", "end_lon_deg"), plan.ends, strict=False):
        columns[name] = plain(ends)
    return columns


def plan_json(plan: PlannedPassage) -> str:
    """The plan as JSON text."""
    data = plan_dict(plan)
    # Each column of the track is one line: with a line for each number the file would be long.
    rows = [
        f"    {json.dumps(name)}: {json.dumps(column, allow_nan=False)}"
        for name, column in data[_TRACK].items()
    ]
    data[_TRACK] = None
    text = _escaped(json.dumps(data, indent=2, ensure_ascii=False, allow_nan=False))
    block = "{\n" + ",\n".join(rows) + "\n  }"
    return text.replace(f'\n  "{_TRACK}": null', f'\n  "{_TRACK}": {block}', 1) + "\n"


def _escaped(text: str) -> str:
    """The same JSON, with the escapes of direction overrides and the like in place of them.

    The vessel file is kept as it was read; what a terminal or an editor would act on is not
    written as such.
    """
    return "\n".join(
        line
        if line.isprintable()
        else "".join(c if c.isprintable() else json.dumps(c)[1:-1] for c in line)
        for line in text.split("\n")
    )
