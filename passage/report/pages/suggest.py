"""A suggested route as a self-contained HTML page, beside the route as given."""

from __future__ import annotations

from passage.inputs.route.positions import format_position
from passage.planning.plan.result import PlannedPassage
from passage.planning.suggest.files import Suggestion
from passage.report.drawing.blocks import Card, Cards, Column, Facts, Map, Notes, Section, Table
from passage.report.drawing.map import MapRoute
from passage.report.pages.page import render_page
from passage.report.pages.plan import HOW_TO_READ, map_block, page_facts
from passage.report.pages.plan_blocks import (
    caution_notes,
    leg_table_blocks,
    plan_strips,
    source_blocks,
)
from passage.report.text.suggest import advised_of, notes_of, verdict_of
from passage.report.text.suggest_bound import bound_lines
from passage.report.text.verdict import number
from passage.report.text.verdict_plan import judged_limits


def suggest_page(made: Suggestion) -> str:
    """The page as text: verdict, options side by side, map, waypoints, legs, cautions."""
    lead = advised_of(made)
    plan = made.plans[lead]
    sections = [
        Section("The options", "", [_cards(made, lead), *_bound(made)], "Options"),
        Section("Map", "Rings show each route's yacht at that time.", [_map(made, lead)]),
        Section("Waypoints", "To be appraised on the chart, not navigated water.",
                [_waypoints(made, lead)]),
        Section("The passage advised, by leg", "",
                leg_table_blocks(plan, f"Legs of the passage {lead}"), "Legs"),
        Section("Cautions", "Worst first.",
                [Notes(notes_of(made), "What the search does not know"),
                 caution_notes(plan)]),
        Section("Along the way", HOW_TO_READ, plan_strips(plan), folded=True),
        Section("What this rests on", "",
                [Facts(page_facts(plan)), *source_blocks(plan.provenance, plan.notes)],
                "Sources", folded=True),
    ]  # fmt: skip
    return render_page(
        f"{plan.vessel_name}: suggested route",
        sections,
        subtitle=made.route_of(lead).name,
        verdict=verdict_of(made),
    )


def _title(name: str) -> str:
    return f"{name[0].upper()}{name[1:]}"


def _cards(made: Suggestion, lead: str) -> Cards:
    """A card for each plan: fuel, price, distance, time, roll, sickness, limits exceeded."""
    items = []
    for style, (name, plan) in enumerate(made.plans.items()):
        totals = plan.totals
        rows = [("fuel", f"{number(totals['fuel_l'])} l")]
        if totals.get("cost") is not None:
            rows.append(("price", f"{number(totals['cost'])} {totals['currency']}"))
        rows += [
            ("distance", f"{number(totals.get('distance_nm'), 1)} nm"),
            ("time", f"{number(totals.get('hours'), 1)} h"),
            (
                "roll, worst hour",
                f"{number(totals.get('worst_window_roll_significant_deg'), 1)} deg",
            ),
            ("sickness", f"{number(totals.get('worst_leg_motion_sickness_percent'))} %"),
        ]
        note, state = _nearest(plan)
        key = "as given" if name.startswith("as given") else name
        judged = made.found.candidates.get(key)
        if judged is not None and judged.faults and name != "suggested":
            note, state = f"Ruled out: {judged.faults[0]}.", "limit"
        # Where the verdict keeps the route given, the one found is not suggested.
        word = "best found" if name == "suggested" and name != lead else name
        title = f"{_title(word)}, advised" if name == lead else _title(word)
        items.append(Card(title, "", rows, note, state, style, name == lead))
    return Cards(items)


def _nearest(plan: PlannedPassage) -> tuple[str, str]:
    """The plan's tightest limit in words, and whether it is kept."""
    judged = [one for one in judged_limits(plan) if one.share == one.share]
    if not judged:
        # The verdict says so already.
        return "", "note"
    # They come tightest first; what is over follows the rule of the verdict.
    over = [one for one in judged if one.over]
    tight = (over or judged)[0]
    text = f"{'Over a limit' if over else 'Nearest to a limit'}: {tight.words}."
    return text, "limit" if over else "good"


def _bound(made: Suggestion) -> list[Notes]:
    """How much better a route over the grid of the search could be."""
    lines = bound_lines(made.found, made.options)
    return [Notes(lines, "How near to the best")] if lines else []


def _map(made: Suggestion, lead: str) -> Map:
    routes = [
        MapRoute(
            name,
            plan.marks["way_lat_deg"],
            plan.marks["way_lon_deg"],
            style,
            # Waypoints of the other routes would crowd the map.
            plan.marks["way_names"] if name == lead else [],
            name == lead,
        )
        for style, (name, plan) in enumerate(made.plans.items())
    ]
    return map_block(routes, list(made.sea), made.plans[lead])


def _waypoints(made: Suggestion, lead: str) -> Table:
    points = made.route_of(lead).waypoints
    return Table(
        [Column("waypoint"), Column("position", meaning="latitude and longitude, WGS 84")],
        [[point.name, format_position(point.lat_deg, point.lon_deg)] for point in points],
        caption="Waypoints of the passage advised",
    )
