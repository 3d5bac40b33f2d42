"""A comparison as a self-contained HTML page."""

from __future__ import annotations

import numpy as np

from passage.planning.compare.choice import UNKNOWN, why_words
from passage.planning.compare.compare import Comparison
from passage.planning.compare.daylight import dark_spans
from passage.planning.plan.result import PlannedPassage
from passage.planning.plan.sea_frames import leading
from passage.report.drawing.blocks import Block, Column, Facts, Notes, Section, Table
from passage.report.drawing.charts_choice import front_chart, window_chart
from passage.report.drawing.map import MapRoute
from passage.report.pages.cards import named_options, option_cards
from passage.report.pages.compare_odds import certainty_blocks, odds_keys, whiskers
from passage.report.pages.page import render_page
from passage.report.pages.plan import HOW_TO_READ, map_block
from passage.report.pages.plan_blocks import (
    UNITS,
    caution_notes,
    leg_table_blocks,
    local_heads,
    plan_strips,
    short_time,
    source_blocks,
)
from passage.report.text.clocks import local_cell
from passage.report.text.compare import allowed_words
from passage.report.text.compare_columns import total_columns
from passage.report.text.verdict import when
from passage.report.text.verdict_compare import compare_verdict
from passage.units import HOUR_S, utc_text

#: Most rows of the table of combinations; files have all.
MOST_ROWS = 60
#: Totals shown for each combination.
_SHOWN = (
    "fuel_l",
    "worst_window_roll_significant_deg",
    "worst_leg_motion_sickness_percent",
    "limit_share",
    "hours",
    "mean_roll_significant_deg",
    "hours_over_roll_limit",
    "worst_leg_lateral_acceleration_rms_g",
    "worst_leg_significant_height_m",
)


def compare_page(found: Comparison) -> str:
    """The page as text: verdict, options, charts, map, tables, cautions, sources."""
    lead = leading(found, found.chosen)
    plan = found.plans.get(lead)
    sections = [
        Section("The options", _options_words(found), [option_cards(found)], "Options"),
        _choice(found, lead),
        Section("Map", _map_words(found, lead), [_map(found, lead)]),
    ]
    who = f"{found.routes[found.cell_of(lead).route].name}, {found.label(lead)}"
    if plan is not None:
        word = "The chosen passage" if found.chosen is not None else "The passage shown"
        sections.append(Section(f"{word}, by leg", who, leg_table_blocks(plan, who), "Legs"))
    sections += [_ruled_out(found), Section("Cautions", "", [_cautions(found, plan)])]
    if plan is not None:
        strips = Section(
            "Along the way", f"{who}. {HOW_TO_READ}", plan_strips(plan), folded=True,
        )  # fmt: skip
        sections.append(strips)
    sections += [_all(found, lead), *_others(found, lead)]
    basis = [Facts(_facts(found)), *source_blocks(found.provenance, found.notes)]
    sections.append(Section("What this rests on", "", basis, "Sources", folded=True))
    first, last = float(found.departure_s.min()), float(found.departure_s.max())
    span = when(first) if first == last else f"{when(first)} to {when(last)}"
    return render_page(
        f"{found.vessel.name}: which route, when, how fast",
        sections,
        subtitle=f"{', '.join(r.name for r in found.routes)}; leaving {span}",
        verdict=compare_verdict(found),
    )


def _options_words(found: Comparison) -> str:
    text = f"Comfort is judged by {found.options.measure.meaning}."
    if not found.front_open:
        what = "limit" if found.vessel.limits.any_set else "constraint"
        text = f"Nothing keeps every {what}; these come nearest in one way or another. " + text
    return text


def _cautions(found: Comparison, plan: PlannedPassage | None) -> Block:
    if plan is None:
        return Notes(["No passage is covered from end to end, so there are no cautions to give."])
    return caution_notes(plan)


def _others(found: Comparison, lead: int) -> list[Section]:
    others = [(i, p) for i, p in found.plans.items() if i != lead]
    if not others:
        return []
    names = named_options(found)
    tables = [
        table
        for i, p in others
        for table in leg_table_blocks(
            p,
            f"No. {i + 1} ({names.get(i, 'named')}): "
            f"{found.routes[found.cell_of(i).route].name}, {found.label(i)}",
        )
    ]
    intro = "The other named combinations in full."
    return [Section("Other options by leg", intro, tables, "Others by leg", folded=True)]


def _facts(found: Comparison) -> list[tuple[str, object]]:
    runs = sorted({s["run_utc"] or "run not given" for s in found.provenance["forecasts"]})
    return [
        ("Vessel", found.vessel.name),
        ("Routes", ", ".join(route.name for route in found.routes)),
        ("Forecast run", ", ".join(runs)),
        ("Comfort judged by", found.options.measure.meaning),
        *_constraints(found),
    ]


def _constraints(found: Comparison) -> list[tuple[str, object]]:
    options = found.options
    facts: list[tuple[str, object]] = []
    if options.arrive_by_s is not None:
        facts.append(("Arrive by", utc_text(options.arrive_by_s)))
    if options.daylight:
        facts.append(("Arrival", "in daylight"))
    if options.budget is not None:
        facts.append(("Comfort budget", f"{options.budget:g} {options.measure.unit}"))
    return facts


def _map(found: Comparison, lead: int) -> Block:
    chosen = found.cell_of(lead).route
    routes = []
    for i, route in enumerate(found.routes):
        moving = [leg for leg in route.legs if leg.kind != "stay"]
        points = [(route.legs[0].lat_from_deg, route.legs[0].lon_from_deg)]
        points += [(leg.lat_to_deg, leg.lon_to_deg) for leg in moving]
        names = [route.legs[0].name_from, *(leg.name_to for leg in moving)]
        lat, lon = [p[0] for p in points], [p[1] for p in points]
        mine = [
            word for index, word in named_options(found).items() if found.cell_of(index).route == i
        ]
        words = list(dict.fromkeys(w for word in mine for w in word.split(", ")))
        # Only two names fit beside a line; the cards have all.
        label = f"{route.name}: {', '.join(words[:2])}" if words else route.name
        routes.append(MapRoute(route.name, lat, lon, i % 6, names, i == chosen, label))
    return map_block(routes, found.sea, found.plans.get(lead))


def _map_words(found: Comparison, lead: int) -> str:
    if not found.sea:
        return ""
    return (
        f"Rings show each route's yacht leaving {when(float(found.departure_s[lead]))} at "
        f"{found.cell_of(lead).speed_text}."
    )


def _choice(found: Comparison, lead: int) -> Section:
    measure = found.options.measure
    heading = f"{measure.heading.capitalize()}, {measure.unit}"
    known = np.flatnonzero(np.isfinite(found.totals["fuel_l"]) & np.isfinite(found.comfort))
    judges = found.judges or bool(np.any(found.closed[known]))
    blocks: list[Block] = []
    if known.size:
        place = {int(i): n for n, i in enumerate(known)}
        limit = None
        if found.options.comfort == "roll":
            limit = found.vessel.limits.underway.roll_significant_deg
        blocks.append(
            front_chart(
                found.totals["fuel_l"][known],
                found.comfort[known],
                [found.cell_of(int(i)).route for i in known],
                [route.name for route in found.routes],
                found.front[known],
                labels=[found.label(int(i)) for i in known],
                comfort_heading=heading,
                comfort_unit=measure.unit,
                allowed=found.closed[known] == 0 if judges else None,
                chosen=place.get(lead) if found.chosen is not None else None,
                limit=limit,
                names={place[i]: name for i, name in named_options(found).items() if i in place},
                leave_s=found.departure_s[known],
                states=[
                    ", ".join(why_words(int(found.closed[i])) or allowed_words(found))
                    for i in map(int, known)
                ],
                whiskers=whiskers(found, place),
            )
        )
    departures = np.array(found.options.departures_s)
    if departures.size > 1:
        blocks.append(_window(found, lead, departures, heading))
    blocks += certainty_blocks(found)
    intro = (
        "The stepped line joins the best trade-offs: whatever is not on it costs more fuel, more "
        "discomfort, or both."
    )
    if not found.front_open and judges:
        intro += " Nothing is allowed; the line joins the best of all that the forecast covers."
    return Section("The choice", intro, blocks, "Choice")


def _window(found: Comparison, lead: int, departures: np.ndarray, heading: str) -> Block:
    """Fuel and discomfort against departure, at the speed and fin use of ``lead``."""
    cell, measure = found.cell_of(lead), found.options.measure
    shape = (len(found.routes), departures.size)
    fuel, rough = np.full(shape, np.nan), np.full(shape, np.nan)
    fine = np.zeros(shape, dtype=bool)
    likely = np.full(shape, np.nan)
    for i in range(len(found.routes)):
        mine = [n for n, c in enumerate(found.cells) if c.route == i]
        same = [n for n in mine if found.cells[n].speed_text == cell.speed_text
                and found.cells[n].fins == cell.fins]  # fmt: skip
        rows = np.flatnonzero(found.cell == (same or mine)[0])
        # A departure not covered from end to end leaves a gap.
        covered = (found.closed[rows] & UNKNOWN) == 0
        fuel[i] = np.where(covered, found.totals["fuel_l"][rows], np.nan)
        rough[i] = np.where(covered, found.comfort[rows], np.nan)
        fine[i] = found.closed[rows] == 0
        if found.odds is not None:
            likely[i] = found.odds.asked[rows]
    last = found.routes[cell.route].legs[-1]
    hours = float(np.nanmedian(found.totals["hours"][found.cell == found.cell[lead]]))
    # Nights are those of the arrival, moved back by the length of the passage.
    nights: list[tuple[float, float]] = []
    if np.isfinite(hours):
        shift = hours * HOUR_S
        nights = [
            (a - shift, b - shift)
            for a, b in dark_spans(
                float(departures[0]) + shift,
                float(departures[-1]) + shift,
                last.lat_to_deg,
                last.lon_to_deg,
            )
        ]
    limit = None
    if found.options.comfort == "roll":
        limit = found.vessel.limits.underway.roll_significant_deg
    chart = window_chart(
        departures,
        fuel,
        rough,
        [route.name for route in found.routes],
        fine if found.judges or np.any(found.closed & ~UNKNOWN) else None,
        comfort_heading=f"{heading}, at {cell.speed_text}, fins {cell.fins}",
        comfort_column=Column(measure.heading, measure.unit, measure.decimals),
        limit=limit,
        chosen_s=float(found.departure_s[lead]),
        nights=nights,
        odds=None if found.odds is None else likely,
        odds_asked=found.options.odds,
    )
    if not nights:
        return chart
    from dataclasses import replace

    return replace(
        chart, note=f"Shaded: departures that arrive in the dark after about {hours:.0f} h."
    )


def _all(found: Comparison, lead: int) -> Section:
    """The table of combinations: the front first, then open ones, then the rest."""
    columns = {column.key: column for column in total_columns(found)}
    ahead = [*_SHOWN[:2], *odds_keys(found)]
    shown = [*ahead, *_SHOWN[2:]]
    if not found.vessel.limits.any_set:
        # Without limits these columns are empty.
        shown = [key for key in shown if key not in ("limit_share", "hours_over_roll_limit")]
    count = len(ahead)
    names = named_options(found)
    fuel = np.nan_to_num(found.totals["fuel_l"], nan=np.inf)
    order = np.lexsort((fuel, found.closed != 0, ~found.front))[:MOST_ROWS]
    heads = [Column("no.", "", 0), Column("route"), Column("leaves", "UTC"),
             *local_heads("leaves"), Column("speed"), Column("fins")]  # fmt: skip
    heads += [
        Column(columns[k].heading, "" if k == "limit_share" else UNITS.get(columns[k].unit, ""),
               columns[k].decimals, columns[k].meaning)
        for k in shown
    ]  # fmt: skip
    before = 5 + len(local_heads("leaves")) + count
    heads[before:before] = [Column("state")]
    heads += [Column("arrives", "UTC"), *local_heads("arrives")]
    rows: list[list[object]] = []
    for i in map(int, order):
        cell = found.cell_of(i)
        eta = float(found.totals["eta_s"][i])
        state = [names[i]] if i in names else ["best trade-off"] if found.front[i] else []
        state += why_words(int(found.closed[i])) or allowed_words(found)
        rows.append(
            [
                i + 1,
                found.routes[cell.route].name,
                short_time(utc_text(found.departure_s[i])),
                *local_cell(float(found.departure_s[i])),
                cell.speed_text,
                cell.fins,
                *(float(found.totals[k][i]) for k in shown[:count]),
                ", ".join(state),
                *(float(found.totals[k][i]) for k in shown[count:]),
                short_time(utc_text(eta)) if eta == eta else None,
                *local_cell(eta, arriving=True),
            ]
        )
    marked = [n for n, i in enumerate(order) if int(i) == lead]
    then = " then what is allowed," if found.judges else ""
    intro = f"The best trade-offs first,{then} then the rest, each by fuel."
    if len(found) > MOST_ROWS:
        intro += f" {MOST_ROWS} of {len(found)} are shown; CSV, JSON and NetCDF have all."
    mark = "chosen" if found.chosen is not None else "shown above"
    table = Table(heads, rows, caption="Combinations", marked=marked, mark=mark)
    return Section("Combinations", intro, [table], "All", folded=True)


def _ruled_out(found: Comparison) -> Section:
    blocks: list[Block] = [
        Notes([line[:1].upper() + line[1:] for line in why.brief], why.of)
        for why in found.exclusions
    ]
    if not blocks:
        blocks = [Notes(["No combination is ruled out."])]
    return Section(
        "What rules combinations out",
        "The leg where each reason applies most often; JSON has every leg.",
        blocks,
        "Ruled out",
        folded=True,
    )
