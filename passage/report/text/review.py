"""A review as text and JSON: the answer, planned beside logged, and doubts."""

from __future__ import annotations

import json
import textwrap
from typing import Any

from passage import __version__
from passage.planning.plan.result import plain
from passage.planning.review.causes import EXPLAINED, MissCauses
from passage.planning.review.largest import largest_miss
from passage.planning.review.legs import QUANTITIES, LegReview, PlannedLogged
from passage.planning.review.review import Review
from passage.report.drawing.blocks import Figure
from passage.report.text.layout import Layout, TextColumn, fitted
from passage.report.text.verdict import Verdict, number, verdict_lines, when
from passage.units import utc_text

#: Version of the JSON layout.
REVIEW_SCHEMA_VERSION = "1.0"
_NONE = "-"
#: Quantities whose columns are always shown.
_ALWAYS = ("hours", "fuel", "roll")
#: What the columns mean.
QUANTITY_MEANINGS = {
    "hours": "from the start of the leg to its end",
    "distance": "sailed over the ground",
    "speed_through_water": "mean speed through the water",
    "speed_over_ground": "mean speed over the ground",
    "fuel": "main engines only",
    "roll": "root mean square about the heel",
    "heel": "mean lean, + to starboard",
    "fin_angle": "root mean square of the fins' angle",
    "fins_active": "hours with the fins working against roll",
}


def review_answer(found: Review) -> str:
    """How the plan came out, in a sentence; ``review_figures`` has the figures."""
    pairs = found.whole.pairs
    parts = [_came_out("fuel", pairs["fuel"]), _came_out("roll rms", pairs["roll"])]
    time = pairs["hours"]
    if time.miss is not None and time.planned:
        parts.append(_time_words(time.miss))
    text = "; ".join(part for part in parts if part)
    return f"{text[0].upper()}{text[1:]}."


def _time_words(miss_h: float) -> str:
    minutes = round(60.0 * miss_h)
    if minutes == 0:
        return "she took the planned time"
    size = f"{abs(miss_h):.1f} h" if abs(minutes) >= 60 else f"{abs(minutes)} minutes"
    return f"she took {size} {'more' if minutes > 0 else 'less'} than planned"


def _came_out(name: str, pair: PlannedLogged) -> str:
    if pair.planned is None or pair.logged is None or pair.miss is None:
        what = "logged" if pair.logged is None else "planned"
        return f"{name} is not {what} well enough to compare"
    # Rounded first, so that -0 is printed as 0.
    share = round(100.0 * pair.miss / pair.planned) if pair.planned else 0
    how = "as planned" if share == 0 else f"{abs(share)} % {'above' if share > 0 else 'below'} plan"
    band = ""
    if pair.within_band is not None:
        band = f", {'within' if pair.within_band else 'outside'} its band"
    return f"{name} came out {how}{band}"


def review_figures(found: Review) -> tuple[Figure, ...]:
    """Fuel, roll and time as logged, with what was planned and its band."""
    figures = []
    for key, label, unit, digits in (
        ("fuel", "Fuel, main engines", "l", 0),
        ("roll", "Roll rms", "deg", 2),
        ("hours", "Time", "h", 1),
    ):
        pair = found.whole.pairs[key]
        if pair.logged is None:
            continue
        under = "" if pair.planned is None else f"planned {number(pair.planned, digits)}"
        if pair.low is not None and pair.high is not None:
            under += f", band {number(pair.low, digits)} to {number(pair.high, digits)}"
        figures.append(Figure(label, number(pair.logged, digits), unit, under))
    return tuple(figures)


def review_verdict(found: Review, causes: MissCauses | None = None) -> Verdict:
    """The verdict: whether the plan's bands held, the largest miss, and the times."""
    held = [found.whole.pairs[key].within_band for key, _ in EXPLAINED]
    state = "over" if False in held else "unknown" if None in held else "within"
    word = {"over": "A band did not hold", "unknown": "Not all compared", "within": "Bands held"}
    largest = largest_miss(found, causes)
    why = largest.words if largest else ""
    figures = review_figures(found)
    return Verdict(state, review_answer(found), why, time_line(found), figures, word[state])


def review_table(
    found: Review,
    causes: MissCauses | None = None,
    layout: Layout = Layout(),  # noqa: B008 - frozen
) -> str:
    """The review for the screen: verdict and table, then causes, remarks, doubts and methods."""
    lines = [] if causes is None else cause_lines(causes)
    lines += doubt_lines(found)
    lines += [f"Doubt: {words}." for words in found.doubts]
    lines.append("How: " + "; ".join(found.how) + ".")
    title = f"{found.plan.vessel.name}: {found.plan.route}, planned and logged"
    verdict = review_verdict(found, causes)
    out = [title, "", *verdict_lines(verdict, layout), "", *_table(found, layout)]
    if not layout.quiet:
        out += ["", *(_wrapped(line, layout) for line in lines)]
    return "\n".join(out) + "\n"


def time_line(found: Review) -> str:
    """When she left and arrived; empty where the log has no times."""
    whole = found.whole
    if whole.begin_s is None or whole.end_s is None:
        return ""
    late = ""
    if found.late_h is not None and abs(found.late_h) >= 1.0 / 60.0:
        word = "after" if found.late_h > 0 else "before"
        late = f", {abs(found.late_h):.1f} h {word} the plan"
    return f"Left {when(whole.begin_s)}{late}; arrived {when(whole.end_s)}."


def doubt_lines(found: Review) -> list[str]:
    """Remarks on the whole and on legs, a sentence each."""
    lines = []
    if found.whole.off_track_nm is not None and found.whole.off_track_nm >= 0.1:
        lines.append(f"Furthest off the planned track: {found.whole.off_track_nm:.1f} nm.")
    for leg in found.legs:
        lines += [f"Leg {leg.leg}: {remark}." for remark in leg.remarks]
    return lines + [f"Whole: {remark}." for remark in found.whole.remarks]


def _wrapped(line: str, layout: Layout) -> str:
    """A sentence over several lines."""
    return textwrap.fill(line, layout.width, subsequent_indent="  ", break_on_hyphens=False)


def _table(found: Review, layout: Layout) -> list[str]:
    """Two rows for each leg: planned above logged, a column for each quantity."""
    shown = [
        (key, words, unit, decimals)
        for key, words, unit, decimals in QUANTITIES
        if any(leg.pairs[key].logged is not None for leg in (*found.legs, found.whole))
    ]
    columns = [TextColumn("leg"), TextColumn("", left=True)]
    # Fuel, roll and time are the quantities of the answer.
    columns += [
        TextColumn(
            f"{words}\n{unit}", 0 if key in _ALWAYS else rank, meaning=QUANTITY_MEANINGS[key]
        )
        for rank, (key, words, unit, _) in enumerate(shown, 1)
    ]
    rows: list[list[str]] = []
    for leg in (*found.legs, found.whole):
        number = str(leg.leg) if leg.leg else "all"
        for which in ("planned", "logged"):
            cells = [number if which == "planned" else "", which]
            for key, _, _, decimals in shown:
                cells.append(_cell(leg.pairs[key], which, decimals))
            rows.append(cells)
    return [*fitted(columns, rows, layout), "* outside the plan's band"]


def _cell(pair: PlannedLogged, which: str, decimals: int) -> str:
    value = getattr(pair, which)
    if value is None:
        return _NONE
    mark = "*" if which == "logged" and pair.within_band is False else " "
    return f"{number(value, decimals)}{mark}"


def cause_lines(causes: MissCauses) -> list[str]:
    """The miss and its parts in words."""
    lines = []
    for key, unit in EXPLAINED:
        parts, digits = causes.parts[key], 0 if unit == "l" else 2
        if parts.miss is None:
            continue
        name = "Fuel" if key == "fuel" else "Roll rms"

        def words(three: tuple[float | None, ...], d: int = digits, u: str = unit) -> str:
            names = ("forecast", "sailed differently", "model")
            return ", ".join(
                f"{name} {round(value, d) + 0.0:+.{d}f} {u}"
                for name, value in zip(names, three, strict=True)
                if value is not None
            )

        miss = round(parts.miss, digits) + 0.0
        lines.append(
            f"{name}, miss {miss:+.{digits}f} {unit}: {words(parts.first)}, in that order."
        )
        if parts.second is not None:
            lines.append(f"  Taking how she was sailed before the forecast: {words(parts.second)}.")
    return [*lines, *(f"Causes: {note}." for note in causes.notes)]


def review_dict(found: Review, causes: MissCauses | None = None) -> dict[str, Any]:
    """The review as plain dicts and lists; None for missing."""
    return {
        "schema_version": REVIEW_SCHEMA_VERSION,
        "passage_version": __version__,
        "answer": review_answer(found),
        "vessel": found.plan.vessel.name,
        "route": found.plan.route,
        "plan_file": found.plan.file,
        "plan_sha256": found.plan.sha256,
        "log_file": found.log_file,
        "largest_miss": None
        if (largest := largest_miss(found, causes)) is None
        else {
            "quantity": largest.key,
            "leg": largest.leg,
            "miss": largest.miss,
            "share": largest.share,
            "text": largest.words,
        },
        "left_h_after_plan": plain(found.late_h),
        "legs": [_leg_dict(leg) for leg in found.legs],
        "whole": _leg_dict(found.whole),
        "miss_parts": None if causes is None else _causes_dict(causes),
        "doubts": list(found.doubts),
        "how": list(found.how),
    }


def _causes_dict(causes: MissCauses) -> dict[str, Any]:
    names = ("forecast", "otherwise", "model")
    rows: dict[str, Any] = {"notes": list(causes.notes)}
    for key, unit in EXPLAINED:
        parts = causes.parts[key]
        second = parts.second
        rows[key] = {
            "unit": unit,
            "miss": parts.miss,
            "forecast_first": dict(zip(names, parts.first, strict=True)),
            "otherwise_first": None if second is None else dict(zip(names, second, strict=True)),
        }
    return dict(plain(rows))


def _leg_dict(leg: LegReview) -> dict[str, Any]:
    row: dict[str, Any] = {
        "leg": leg.leg or None,
        "name": leg.name,
        "begin_utc": None if leg.begin_s is None else utc_text(leg.begin_s),
        "end_utc": None if leg.end_s is None else utc_text(leg.end_s),
        "part_logged": leg.part,
        "off_track_nm": leg.off_track_nm,
        "remarks": list(leg.remarks),
    }
    for key, _, unit, _ in QUANTITIES:
        pair = leg.pairs[key]
        row[key] = {
            "unit": unit,
            "planned": pair.planned,
            "logged": pair.logged,
            "low": pair.low,
            "high": pair.high,
            "held": pair.within_band,
        }
    return dict(plain(row))


def review_json(found: Review, causes: MissCauses | None = None) -> str:
    """The review as JSON text."""
    data = review_dict(found, causes)
    return json.dumps(data, indent=2, ensure_ascii=False, allow_nan=False) + "\n"
