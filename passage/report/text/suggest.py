"""A suggested route for the screen and as JSON."""

from __future__ import annotations

import json
from typing import Any

from passage.inputs.route.positions import format_position
from passage.planning.plan.result import plain
from passage.planning.suggest.files import Suggestion
from passage.planning.suggest.search import SearchOptions
from passage.planning.suggest.summary import summary
from passage.report.files.plan_json import plan_dict
from passage.report.text.layout import Layout, paragraph, wrapped
from passage.report.text.standing import standing_lines
from passage.report.text.suggest_bound import bound_dict, bound_lines
from passage.report.text.suggest_odds import expected_dict, finalist_lines
from passage.report.text.verdict import Verdict, verdict_lines
from passage.report.text.verdict_plan import judged_limits
from passage.report.text.verdict_suggest import advised, suggest_verdict

SUGGEST_SCHEMA_VERSION = "1.0"


def advised_of(made: Suggestion) -> str:
    """Name of the plan that the verdict advises."""
    own = made.found.candidates.get("as given")
    return advised(made.plans, made.options, own.faults if own is not None else ())


def verdict_of(made: Suggestion) -> Verdict:
    """The verdict of a suggestion, the same on the screen, the page and in JSON."""
    own = made.found.candidates.get("as given")
    return suggest_verdict(made.plans, made.options, own.faults if own is not None else ())


def notes_of(made: Suggestion) -> list[str]:
    """The remarks; those on waypoints only where the route they are of is advised."""
    notes = made.found.notes
    if advised_of(made) == "suggested":
        return list(notes)
    return [note for note in notes if not note.startswith("Waypoint ")]


def _limits_set(made: Suggestion) -> bool:
    return bool(judged_limits(made.plans["suggested"]))


def suggest_lines(made: Suggestion, options: SearchOptions, layout: Layout) -> list[str]:
    """Verdict, comparison of the routes, waypoints, remarks."""
    name = advised_of(made)
    route = made.route_of(name)
    out = [f"{made.plans['suggested'].vessel_name}: {route.name}", ""]
    out += verdict_lines(verdict_of(made), layout)
    out.append("")
    draws = int(made.plans["suggested"].totals.get("odds_draws") or 1)
    for line in (
        *summary(made.found, made.plans, options),
        *bound_lines(made.found, options),
        *finalist_lines(made.found, options, draws, limits_set=_limits_set(made)),
    ):
        text = line.strip()
        if name != "suggested" and text.startswith("suggested: "):
            text = f"best found: {text.removeprefix('suggested: ')}"
        indented = line.startswith("  ")
        out.append(wrapped(text, layout.width) if indented else paragraph(text, layout.width))
    out += ["", "Waypoints" if name == "suggested" else "Waypoints of the route as given"]
    out += [
        f"  {point.name}: {format_position(point.lat_deg, point.lon_deg)}"
        for point in route.waypoints
    ]
    if not layout.quiet and (notes := notes_of(made)):
        out += ["", *(wrapped(note, layout.width) for note in notes)]
    return [*out, *standing_lines(layout)]


def suggest_dict(made: Suggestion) -> dict[str, Any]:
    """Verdict, waypoints of the route advised, notes, and the plans by name, as plain values."""
    route = made.route_of(advised_of(made))
    return {
        "schema_version": SUGGEST_SCHEMA_VERSION,
        "verdict": verdict_of(made).as_dict(),
        "vessel": made.plans["suggested"].vessel_name,
        "route": route.name,
        "best": made.found.best or None,
        "waypoints": [
            {"name": point.name, "lat_deg": point.lat_deg, "lon_deg": point.lon_deg}
            for point in route.waypoints
        ],
        "candidates": {
            name: {
                "hours": plain(one.hours),
                "fuel_l": plain(one.fuel_l),
                "roll_degree_hours": plain(one.roll_hours),
                "worst_roll_significant_deg": plain(one.worst_roll_deg),
                "faults": list(one.faults),
                "over_limits": list(one.over),
            }
            for name, one in made.found.candidates.items()
        },
        "bound": bound_dict(made.found, made.options),
        "odds": {
            "source": made.found.odds_source or None,
            "finalists": expected_dict(made.found, limits_set=_limits_set(made)),
        },
        "notes": notes_of(made),
        "plans": {name: plan_dict(plan, track=False) for name, plan in made.plans.items()},
    }


def suggest_json(made: Suggestion) -> str:
    """The same as JSON text; ``null`` for missing."""
    return json.dumps(suggest_dict(made), indent=1, ensure_ascii=False, allow_nan=False) + "\n"
