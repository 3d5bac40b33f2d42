"""One A4 page for the watch: legs, fins, rolls and heel to expect, fuel to check, cautions."""

from __future__ import annotations

from dataclasses import dataclass

from markupsafe import Markup

from passage.planning.plan.decisions import left_with
from passage.planning.plan.result import PlannedPassage
from passage.planning.plan.watch import WATCH_H, WatchLeg, watch_legs
from passage.report.drawing.theme import style_sheet
from passage.report.pages.page import environment, page_asset, page_hash
from passage.report.text.fuel_range import fuel_range
from passage.report.text.standing import grouped
from passage.report.text.tanks import floats_words, transfer_orders
from passage.report.text.verdict import legs_words, number, when
from passage.report.text.verdict_plan import plan_verdict
from passage.report.text.watch_words import (
    change_words,
    lean_words,
    legs_name,
    offset_words,
    span_words,
    stops_words,
    then_words,
    waves_words,
)

#: Legs and cautions that fit the page, and letters of a caution.
MOST_LEGS, MOST_CAUTIONS, MOST_LETTERS = 8, 6, 170
#: Transfers that the sheet names.
MOST_ORDERS = 4
#: Standing cautions, short enough for the foot of the sheet.
FOOT = (
    "Decision support only: the master decides. Forecasts err: watch the sea itself. The approved "
    "stability booklet, class and flag rules go first. Fins centred going astern, at close "
    "quarters and where slamming is likely. Nobody near the fins or their hydraulics when they are "
    "started. Not for navigation."
)


@dataclass(frozen=True)
class SheetRow:
    """A leg of the sheet as shown."""

    name: str
    to: str
    course: str
    speed: str
    leaves: str
    arrives: str
    sea: str
    roll: str
    largest: str
    heel: str
    offset: str
    fuel: str
    left: str
    fins: str
    then: str
    following: str


def sheet_page(plan: PlannedPassage) -> str:
    """The sheet as text; it prints on one A4 page in black and white, and is dark at night."""
    spread = fuel_range(plan)
    known = float(plan.totals.get("known_percent", 100.0))
    natural = float(plan.marks["natural_roll_period_s"])
    legs = watch_legs(plan, MOST_LEGS)
    rows = [
        _row(leg, legs[i + 1] if i + 1 < len(legs) else None, natural) for i, leg in enumerate(legs)
    ]
    cautions, more = _cautions(plan)
    style = style_sheet(page_asset("sheet.css"))
    script = page_asset("theme.js")
    policy = (
        f"default-src 'none'; style-src {page_hash(style)}; script-src {page_hash(script)}; "
        "base-uri 'none'; form-action 'none'"
    )
    merged = any(len(leg.legs) > 1 for leg in legs)
    runs = sorted({s["run_utc"] or "run not given" for s in plan.provenance["forecasts"]})
    return (
        environment()
        .get_template("sheet.html.j2")
        .render(
            title=f"{plan.vessel_name}: {plan.route_name}",
            verdict=plan_verdict(plan),
            rows=rows,
            cautions=cautions,
            more=more,
            foot=FOOT,
            watch_h=f"{WATCH_H:g}",
            natural=number(natural, 1),
            run=", ".join(runs),
            local=next((n for n in plan.notes if n.startswith("Local time")), ""),
            merged=merged,
            transfers=_transfers(plan),
            fuel=number(plan.totals.get("fuel_l")),
            fuel_range=spread.under if spread is not None and known >= 100.0 else "",
            policy=policy,
            style=Markup(style),
            script=Markup(script),
        )
    )


def _transfers(plan: PlannedPassage) -> str:
    """Liquid to be moved, with GM and trim after it; without transfers, what the fins hold."""
    orders = transfer_orders(plan)
    if not orders:
        return _heel_taken(plan)
    more = len(orders) - MOST_ORDERS
    words = "; ".join(orders[:MOST_ORDERS]) + (f"; and {more} more in the plan" if more > 0 else "")
    return f"{words[0].upper()}{words[1:]}. Then {floats_words(plan)}."


def _heel_taken(plan: PlannedPassage) -> str:
    """What the fins do about heel where no liquid is moved; empty where they do nothing."""
    options = plan.provenance.get("options", {})
    gains = plan.marks.get("fin_gains")
    held = any((leg["fin_offset_deg"] or 0.0) != 0.0 for leg in plan.legs)
    if not gains or options.get("fins") != "active" or not held:
        return ""
    litres = number(plan.totals.get("fuel_fins_offset_l"))
    how = {"limit": "hold the heel down to the owner's limit", "fins": "hold the heel"}
    short = " as far as they can" if left_with(plan.legs)[0] else ""
    return (
        f"None: the fins {how.get(options.get('heel'), 'hold the heel')}{short}, {litres} l in all."
        " `passage heel` shows whether moving liquid is cheaper; pass its answer to plan with "
        "--moves."
    )


def _row(leg: WatchLeg, following: WatchLeg | None, natural: float) -> SheetRow:
    courses = [f"{c:03.0f}" for c in leg.courses_deg]
    course = courses[0] if courses else "-"
    if len(courses) > 1:
        course = f"{courses[0]} to {courses[-1]}"
    if leg.stay:
        course = "at anchor"
    sea = "-"
    if leg.height_m is not None:
        sea = f"{number(leg.height_m, 1)} m"
        if leg.wave_angle_deg is not None and not leg.stay:
            sea += f", {leg.wave_angle_deg:.0f} deg {_side(leg.wave_side)}"
    fins = " ".join(
        part for part in (lean_words(leg), f"({waves_words(leg, natural)})", stops_words(leg))
        if part
    )  # fmt: skip
    return SheetRow(
        name=legs_name(leg.legs),
        to=leg.to,
        course=course,
        speed="-" if leg.speed_kn is None or leg.stay else number(leg.speed_kn, 1),
        leaves=_time(leg.start_s),
        arrives=_time(leg.end_s),
        sea=sea,
        roll=_degrees(leg.roll_significant_deg),
        largest=_degrees(leg.roll_largest_deg),
        heel=span_words(leg.heel_low_deg, leg.heel_high_deg),
        offset=offset_words(leg),
        fuel=number(leg.fuel_l) if leg.fuel_l is not None else "-",
        left=number(leg.fuel_left_l) if leg.fuel_left_l is not None else "-",
        fins=fins,
        then=then_words(leg, natural),
        following=change_words(leg, following, natural),
    )


def _side(word: str) -> str:
    return {"starboard": "stbd"}.get(word, word)


def _degrees(value: float | None) -> str:
    return "-" if value is None else number(value, 1)


def _time(time_s: float | None) -> str:
    """``14 06:00``: day and time; ``-`` for none."""
    if time_s is None:
        return "-"
    words = when(time_s).split()
    return f"{words[0]} {words[3].rstrip('Z')}"


def _cautions(plan: PlannedPassage) -> tuple[list[tuple[str, str]], int]:
    """The gravest cautions with their legs, shortened, and how many more there are."""
    found = []
    letters = MOST_LETTERS if len(plan.legs) > 4 else 2 * MOST_LETTERS
    for legs, items in grouped(plan.cautions):
        for caution in items:
            if caution.severity == "note":
                continue
            text = caution.text[:1].upper() + caution.text[1:]
            if len(text) > letters:
                text = text[:letters].rsplit(" ", 1)[0].rstrip(",;:") + " \u2026"
            found.append((caution.severity, legs_words(legs) if legs else "", text))
    found.sort(key=lambda one: one[0] != "warning")
    shown = [(where, text) for _, where, text in found[:MOST_CAUTIONS]]
    return shown, len(found) - len(shown)
