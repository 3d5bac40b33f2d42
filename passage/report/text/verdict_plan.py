"""The verdict of one plan: within the owner's limits or not, why, and at what price."""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import Any

from passage.planning.plan.judged import window_words
from passage.planning.plan.past import LEFT_OUT
from passage.planning.plan.result import PlannedPassage
from passage.planning.voyage.limits import LIMIT_KEYS, LIMIT_WORDS, exceeds, window_name
from passage.report.drawing.blocks import Figure
from passage.report.text.chances import chance_words, member_words, most_odds
from passage.report.text.fuel_range import fuel_range
from passage.report.text.verdict import (
    EVEN_ODDS,
    NO_LIMIT,
    NO_LIMIT_WORD,
    UNIT_WORDS,
    Verdict,
    asked_sea,
    by_route,
    eta_s,
    flows_left_out,
    left_out,
    legs_of,
    legs_words,
    listed,
    number,
    odds_word,
    when,
)
from passage.report.text.verdict import gaps as gap_words
from passage.variables import BY_NAME, COVERED

#: Warnings that are not about a limit, in few words; ``{}`` takes the legs.
_WARNINGS = {
    "no_way": "the current stops her on {}",
    "over_land": "{} runs over land by the coarse coastline",
    "fuel_aboard": "the fuel aboard does not last",
    "fin_loop_unstable": "the fin gains are unstable on {}",
    "fins_hunt": "the fins hunt with these gains on {}",
    "wind_missing": "no wind is known on 100 % of the passage",
    "current_missing": "no current is known on 100 % of the passage",
    "slamming": "slamming is likely on {}",
    "arrives_late": "she arrives after the time asked",
    "height_zero": "the forecast has no waves at all, a height of 0 on the whole passage",
}
#: Warnings that another time, speed or route may do away with.
_CURED = ("no_way", "slamming", "fuel_aboard", "over_land", "arrives_late")
#: Warnings that leave the roll unknown.
_NO_ROLL = ("fins_hunt", "fin_loop_unstable")
#: Warnings that repeat the limits.
_SAID = ("limit",)
#: Share of the fuel from which fuel for holding the heel is mentioned.
_HELD_SHARE = 0.01


@dataclass(frozen=True)
class Judged:
    """One limit on one leg: value over limit is ``share``; NaN where the value is missing."""

    leg: int
    key: str
    limit_key: str
    value: float
    limit: float
    when: str = ""

    @property
    def share(self) -> float:
        """Value over limit."""
        return abs(self.value) / self.limit if self.limit > 0.0 else float("inf")

    @property
    def over(self) -> bool:
        """Whether the limit is exceeded."""
        return exceeds(self.limit_key, self.value, self.limit)

    @property
    def words(self) -> str:
        """``significant roll 6.7 deg on leg 3 (limit 4)``."""
        variable = BY_NAME[self.key]
        shown = number(abs(self.value), max(variable.decimals, 1))
        if self.key == "motion_sickness_percent":
            shown = number(abs(self.value))
            if self.over and float(shown) <= self.limit:
                # Rounded to the limit it would read as kept.
                shown = number(abs(self.value), 1)
        unit = UNIT_WORDS[variable.unit]
        what = LIMIT_WORDS[self.limit_key]
        return f"{what} {shown}{unit}{self.when} on leg {self.leg} (limit {self.limit:g})"


def judged_limits(plan: PlannedPassage) -> list[Judged]:
    """Every limit of the vessel file on every leg, the tightest first; missing values last."""
    sets = plan.marks.get("limits", {})
    detail = {(row["leg"], row["limit_key"]): row for row in plan.judged}
    found = []
    for leg in plan.legs:
        limits = sets.get("at_rest" if leg["type"] == "stay" else "underway", {})
        for key, limit_key in LIMIT_KEYS:
            limit = limits.get(limit_key)
            if limit is None:
                continue
            value = leg.get(key)
            number_ = float("nan") if value is None else float(value)
            when_ = window_words(detail.get((leg["leg"], limit_key)))
            found.append(Judged(int(leg["leg"]), key, limit_key, number_, float(limit), when_))
    return sorted(found, key=lambda one: -one.share if one.share == one.share else 1.0)


def speed_words(plan: PlannedPassage) -> str:
    """``12 kn`` or ``10 to 12 kn`` through the water; empty where not known."""
    speeds = [
        float(leg["speed_through_water_kn"])
        for leg in plan.legs
        if leg["type"] != "stay" and leg["speed_through_water_kn"] is not None
    ]
    speeds = [speed for speed in speeds if speed == speed]
    if not speeds:
        return ""
    low, high = f"{min(speeds):.1f}".rstrip("0"), f"{max(speeds):.1f}".rstrip("0")
    low, high = low.rstrip("."), high.rstrip(".")
    return f"{low} kn" if low == high else f"{low} to {high} kn"


def plan_verdict(plan: PlannedPassage) -> Verdict:
    """Within, over or not known in full, with the figures that decide it."""
    limits = judged_limits(plan)
    over = [one for one in limits if one.over]
    missing = sorted({one.leg for one in limits if one.share != one.share})
    gaps = sorted({int(leg["leg"]) for leg in plan.legs
                   if leg["coverage"] not in COVERED})  # fmt: skip
    warned = _warnings(plan)
    speed = speed_words(plan)
    way = f"{when(plan.departure_s)} {by_route(plan.route_name)}" + (
        f" at {speed}" if speed else ""
    )
    go = f"Leave {way}"
    count = len(plan.legs)
    word, doubtful = "", False
    hunts = legs_of(plan.cautions, _NO_ROLL)
    if hunts and not over:
        do = (
            f"No verdict: the fins hunt with these gains on {legs_words(hunts)} of {count}, so "
            "roll, comfort and fuel are not known there."
        )
        why, state = "Lower the gains in the vessel file, as shown below.", "unknown"
    elif over or warned:
        legs = sorted({one.leg for one in over})
        if over:
            # No order to leave: the verdict is that this passage breaks the limits.
            do = (
                f"Not within the owner's limits: leaving {way}, she is over them on "
                f"{legs_words(legs)} of {count}."
            )
        else:
            do = f"{go} only with care: {listed(warned)}."
        why = _over_words(over)
        if over and warned:
            why += f" Also {listed(warned)}."
        if gaps:
            why = f"{why} {gap_words(plan.cautions)}".strip()
        state = "over"
    elif gaps or missing:
        unknown = gaps or missing
        do = (
            f"No verdict from end to end: roll, comfort and fuel are not known in full on "
            f"{legs_words(unknown)} of {count}."
        )
        why = gap_words(plan.cautions)
        rest = [one for one in limits if one.share == one.share and one.leg not in unknown]
        if rest:
            more = f"On the others nothing is over the owner's limits; nearest is {rest[0].words}."
            why = f"{why} {more}".strip()
        state = "unknown"
    elif not limits:
        do, why, state = f"{go}.", "", "unknown"
        word = NO_LIMIT_WORD
    else:
        flows = flows_left_out(plan.cautions)
        unknown_parts = [*flows, *_motion_before(plan, limits)]
        known = f"as far as is known without the {listed(unknown_parts)}, " if unknown_parts else ""
        do = f"{go}: {known}every leg stays within the owner's limits."
        why, state = f"Nearest to a limit: {limits[0].words}.", "within"
        odds = plan.totals.get("odds_within_limits_percent")
        word = "" if odds is None else odds_word(odds)
        if most_odds(plan) < EVEN_ODDS:
            # "Within" must not hide that a limit is more likely broken than kept.
            do = f"{do[:-1]} by this forecast, but its errors make that less likely than not."
            doubtful = True
    if not limits:
        do = f"{NO_LIMIT} {do}"
    sentences = (
        _early(plan),
        why,
        left_out(plan.cautions),
        asked_sea(plan.cautions),
        chance_words(plan),
        member_words(plan),
    )
    why = " ".join(part for part in sentences if part)
    price = _price(plan)
    cured = over or any(one.code in _CURED for one in plan.cautions if one.severity == "warning")
    if limits and state == "over" and cured:
        price += " `passage compare` looks for a time, a speed or a route within the limits."
    return Verdict(state, do, why, price, _figures(plan, bool(limits)), word, doubtful)


def _early(plan: PlannedPassage) -> str:
    """How long before the time asked she arrives; empty where she does not."""
    for one in plan.cautions:
        found = re.search(r"[\d.]+ h before the time asked", one.text)
        if one.code == "arrives_early" and found is not None:
            return f"She arrives {found[0]}."
    return ""


def _motion_before(plan: PlannedPassage, limits: list[Judged]) -> list[str]:
    """Words where sickness is judged without all of the motion before the start."""
    judged = any(one.limit_key == "motion_sickness_percent" for one in limits)
    left = any(one.code == LEFT_OUT for one in plan.cautions)
    return ["motion before the start, which counts for sickness"] if judged and left else []


def _warnings(plan: PlannedPassage) -> list[str]:
    found = []
    for caution in plan.cautions:
        if caution.severity != "warning" or caution.code in _SAID:
            continue
        if caution.code.startswith("coverage_"):
            continue
        words = _WARNINGS.get(caution.code)
        if words is None:
            words = "{} has a warning" if caution.legs else "there is a warning"
        found.append(words.format(legs_words(caution.legs)))
    return list(dict.fromkeys(found))


def _over_words(over: list[Judged]) -> str:
    """The worst value of each exceeded limit, the furthest over first."""
    worst: dict[str, Judged] = {}
    for one in over:
        worst.setdefault(one.limit_key, one)
    if not worst:
        return ""
    words = [one.words for one in worst.values()]
    shown = words[:3]
    more = len(words) - len(shown)
    text = f"Worst: {listed(shown)}"
    return f"{text}, and {more} more." if more else f"{text}."


def _price(plan: PlannedPassage) -> str:
    totals = plan.totals
    fuel = totals.get("fuel_l")
    if fuel is None:
        covered = totals.get("fuel_covered_l")
        share = totals.get("known_percent")
        if not share or covered is None:
            return ""
        return f"The {share:.0f} % of the time that the forecast covers take {number(covered)} l."
    known = float(totals.get("known_percent", 100.0))
    about = "" if known >= 100.0 else "~"
    text = f"It takes {about}{number(fuel)} l"
    if totals.get("cost") is not None:
        text += f" ({number(totals['cost'])} {totals['currency']})"
    text += f" and {number(totals.get('hours'), 1)} h"
    text += f"; the litres are extended from the {known:.0f} % known." if about else "."
    spread = fuel_range(plan)
    parts = (
        text,
        _heel_held(plan),
        spread.sentence if spread is not None and not about else "",
    )
    return " ".join(part for part in parts if part)


def _heel_held(plan: PlannedPassage) -> str:
    """Fuel burnt to hold the heel with the fins; empty where it is little."""
    litres = plan.totals.get("fuel_fins_offset_l")
    fuel = plan.totals.get("fuel_l")
    if litres is None or fuel is None or litres < _HELD_SHARE * fuel:
        return ""
    if plan.provenance.get("options", {}).get("hold") == "fuel":
        # At a held fuel rate it costs time, which is among the decisions.
        return ""
    text = f"Holding the heel with the fins takes {number(litres)} l of this"
    if any(row["transfers"] for row in plan.tanks):
        return f"{text}."
    return f"{text}; `passage heel` compares that with moving liquid."


def _figures(plan: PlannedPassage, any_limit: bool) -> tuple[Figure, ...]:
    totals: dict[str, Any] = plan.totals
    limits = plan.marks.get("limits", {}).get("underway", {})
    roll = totals.get("worst_window_roll_significant_deg")
    hour = window_name(float(plan.marks.get("window_h", 1.0)))
    sick = totals.get("worst_leg_motion_sickness_percent")

    share = float(totals.get("known_percent", 100.0))

    def against(label: str, value: float | None, decimals: int, unit: str, key: str) -> Figure:
        limit = limits.get(key)
        over = value is not None and limit is not None and value > limit
        # Where no limit is set at all, the verdict alone says so.
        none = "no limit set" if any_limit else ""
        under = none if limit is None else f"limit {limit:g} {unit}"
        if share < 100.0:
            # The value may be larger where no sea is known.
            under = f"{under}, of what is known".lstrip(", ")
        return Figure(label, number(value, decimals), unit, under, "limit" if over else "note")

    fuel = totals.get("fuel_l")
    spread = fuel_range(plan)
    band = ""
    if fuel is None:
        band = f"{number(totals.get('fuel_covered_l'))} l known"
    elif float(totals.get("known_percent", 100.0)) < 100.0:
        band = f"{float(totals['known_percent']):.0f} % known"
    elif spread is not None:
        band = spread.under
    arrives = eta_s(totals.get("eta_utc"))
    return (
        Figure("Leaves", when(plan.departure_s)),
        Figure("Arrives", when(arrives) if arrives is not None else "unknown", "",
               f"{number(totals.get('hours'), 1)} h, {number(totals.get('distance_nm'))} nm"),
        Figure("Fuel", _about(totals) + number(fuel), "l" if fuel is not None else "", band),
        against(f"Roll, worst {hour}", roll, 1, "deg", "roll_significant_deg"),
        against("Sickness, at worst", sick, 0, "%", "motion_sickness_percent"),
    )  # fmt: skip


def _about(totals: dict[str, Any]) -> str:
    """``~`` before a sum extended over the part not known."""
    extended = totals.get("fuel_l") is not None
    return "~" if extended and float(totals.get("known_percent", 100.0)) < 100.0 else ""
