"""One plan as a self-contained HTML page."""

from __future__ import annotations

from collections.abc import Sequence

from passage.inputs.coast.coastline import rings_in
from passage.planning.plan.result import PlannedPassage
from passage.planning.plan.sea_frames import MAP_MARGIN_DEG, SeaAt, map_area
from passage.report.drawing.blocks import Block, Column, Facts, Map, Notes, Section, Table
from passage.report.drawing.map import MapRoute, SeaFrame, passage_map
from passage.report.pages.page import render_page
from passage.report.pages.plan_blocks import (
    caution_notes,
    leg_table_blocks,
    plan_strips,
    source_blocks,
)
from passage.report.text.chances import odds_words
from passage.report.text.tanks import tank_table, transfer_orders
from passage.report.text.verdict_plan import plan_verdict

#: Thinning of the coast on the map [deg]; about half a pixel on a wide screen.
COAST_TOLERANCE_DEG = 0.004
HOW_TO_READ = (
    "Roll is the significant single amplitude (twice the rms): one roll in eight or so is larger. "
    "Heights are significant heights. Waves and wind come from, currents set towards. Times are "
    "UTC. Values marked ~ are of a leg that the forecast covers in part."
)


def plan_page(plan: PlannedPassage) -> str:
    """The page as text: verdict, map, charts, legs, cautions, sources."""
    sections = [
        Section("Map", "", [plan_map(plan)]),
        Section("Along the way", HOW_TO_READ, plan_strips(plan)),
        Section("Legs", "", [*leg_table_blocks(plan, "Legs of the passage"), *_odds(plan)]),
        *_tanks(plan),
        Section("Cautions", "Worst first.", [*_decisions(plan), caution_notes(plan)]),
        Section(
            "What this rests on", "",
            [Facts(page_facts(plan)), *source_blocks(plan.provenance, plan.notes)],
            "Sources", folded=True,
        ),
    ]  # fmt: skip
    return render_page(
        f"{plan.vessel_name}: {plan.route_name}", sections, verdict=plan_verdict(plan)
    )


def _tanks(plan: PlannedPassage) -> list[Section]:
    """Transfers ordered, and tanks, GM and trim by leg; empty without transfers."""
    headings, rows = tank_table(plan)
    if not rows:
        return []
    orders = [f"{order[0].upper()}{order[1:]}." for order in transfer_orders(plan)]
    cells: list[list[object]] = [list(row) for row in rows]
    caption = "Tanks as each leg ends, least GM on it, trim since departure (+ by the bow)"
    blocks: list[Block] = [
        Notes(orders, "Liquid moved"), Table([Column(one) for one in headings], cells, caption),
    ]  # fmt: skip
    intro = "To be checked in the approved stability booklet or loading computer."
    return [Section("Tanks and transfers", intro, blocks, "Tanks")]


def _odds(plan: PlannedPassage) -> list[Block]:
    words = odds_words(plan)
    return [Notes(words, "How likely, and how wide")] if words else []


def _decisions(plan: PlannedPassage) -> list[Block]:
    if not plan.decisions:
        return []
    return [Notes([d["text"] for d in plan.decisions], "What the plan does with the fins")]


def page_facts(plan: PlannedPassage) -> list[tuple[str, object]]:
    """Vessel, forecast run and choices."""
    options = plan.provenance.get("options", {})
    runs = sorted({s["run_utc"] or "run not given" for s in plan.provenance["forecasts"]})
    heel = {"fins": "held by the fins", "limit": "held down to the owner's limit",
            "leave": "left as it is"}  # fmt: skip
    return [
        ("Vessel", plan.vessel_name),
        ("Route", plan.route_name),
        ("Forecast run", ", ".join(runs) or None),
        ("Fins under way", options.get("fins")),
        ("Steady heel", heel.get(str(options.get("heel")), options.get("heel"))),
    ]


def plan_map(plan: PlannedPassage) -> Map:
    """The route, the coast, and the sea at a few times."""
    marks = plan.marks
    route = MapRoute(
        plan.route_name, marks["way_lat_deg"], marks["way_lon_deg"], 0, marks["way_names"], True
    )
    return map_block([route], plan.sea, plan)


def map_block(
    routes: list[MapRoute], sea: Sequence[SeaAt], plan: PlannedPassage | None = None
) -> Map:
    """A map of routes with the sea as sampled by the planning.

    With ``plan`` the map shows the same moment as the strips.
    """
    lat = [x for route in routes for x in route.lat_deg]
    lon = [x for route in routes for x in route.lon_deg]
    # The map's shape is limited, so it may show more than the box of the routes.
    box = map_area(lat, lon, MAP_MARGIN_DEG + 1.0)
    size = max(box.north_deg - box.south_deg, (box.east_deg - box.west_deg) % 360.0)
    rings = rings_in(
        box.south_deg,
        box.north_deg,
        box.west_deg,
        box.east_deg,
        tolerance_deg=max(COAST_TOLERANCE_DEG, size / 1600.0),
    )
    frames = [
        SeaFrame(
            one.time_s,
            one.lat_deg,
            one.lon_deg,
            one.height_m,
            one.wind_u_m_s,
            one.wind_v_m_s,
            one.yacht,
        )
        for one in sea
    ]
    track = None
    if plan is not None:
        every = plan.points
        track = (every["time_s"], every["lat_deg"], every["lon_deg"])
    return passage_map(routes, frames, rings, track=track)
