"""A record of passages as text and JSON: how the plans came out, by kind of leg."""

from __future__ import annotations

import json
from dataclasses import asdict
from typing import Any

import numpy as np

from passage import __version__
from passage.planning.plan.result import plain
from passage.planning.record.ages import FITTED, FittedErrors
from passage.planning.record.shares import ENOUGH, FEWEST, KEPT, LEVEL, Band
from passage.planning.record.summary import RecordSummary, Spread, Trend, when
from passage.report.text.layout import Layout, TextColumn, fitted, paragraph
from passage.units import utc_text

#: Version of the JSON layout.
RECORD_SCHEMA_VERSION = "1.0"
_NAMES = {"fuel": "Fuel", "roll": "Roll rms"}


def percent(factor: float) -> str:
    """A factor as a signed percentage: 1.03 is +3 %."""
    return f"{round(100.0 * (factor - 1.0)) + 0:+d} %"


def above(share: float, what: str = "plan") -> str:
    """``3 % above plan``."""
    value = round(100.0 * share)
    if not value:
        return f"as {what}ned" if what == "plan" else f"as {what}"
    return f"{abs(value)} % {'above' if value > 0 else 'below'} {what}"


def record_answer(found: RecordSummary) -> str:
    """How the plans came out, in a few sentences."""
    count = len(found.passages)
    first, last = when(found.passages[0]), when(found.passages[-1])
    days = first if first == last else f"{first} to {last}"
    parts = [f"{found.vessel}: {_passages(count)}, {days}."]
    for key, _ in KEPT:
        whole, band = found.whole[key], found.bands[key]
        if whole.mean is None:
            parts.append(f"{_NAMES[key]} is planned and logged on none of them.")
            continue
        spread = "" if whole.deviation is None else f", give or take {100 * whole.deviation:.0f} %"
        parts.append(f"{_NAMES[key]} came out {above(whole.mean)}{spread}.")
        if band is not None:
            parts.append(_band_words(band))
    return " ".join(parts)


def _passages(count: int) -> str:
    return f"{count} passage{'' if count == 1 else 's'}"


def _band_words(band: Band) -> str:
    text = (
        f"The model's share of it, of {_passages(band.count)}, is {percent(band.middle)}; "
        f"{100.0 * LEVEL:.0f} % of passages lie within {percent(band.low)} to {percent(band.high)}."
    )
    if band.weight < 1.0:
        text += f" With {ENOUGH} passages or more a plan takes its band from the record alone."
    return text


def record_table(
    found: RecordSummary,
    layout: Layout = Layout(),  # noqa: B008 - frozen
) -> str:
    """The record for the screen."""
    out = [paragraph(record_answer(found), layout.width), "", *_table(found, layout)]
    if layout.quiet:
        return "\n".join(out) + "\n"
    lines = [
        "miss: logged against planned. model: logged against computed at the speeds she made in "
        "the sea as it was (passages reviewed with --sea). Mean over legs +- standard deviation."
    ]
    for key, _ in KEPT:
        if found.otherwise[key]:
            lines.append(
                f"{_NAMES[key]}: {found.otherwise[key]} passages were computed with other numbers "
                "of the vessel file and are not in its band. Review them again with --vessel to "
                "include them."
            )
        if found.bands[key] is None:
            lines.append(
                f"{_NAMES[key]}: no band yet: it needs {FEWEST} passages with a model's share, "
                "which a review with --sea gives."
            )
    for kept in found.kept:
        lines.append(
            f"{kept.name[0].upper()}{kept.name[1:]}: predicted {kept.stated_percent:.0f} %, kept "
            f"on {round(kept.kept_percent * kept.count / 100.0)} of {_passages(kept.count)}."
        )
    lines.append(_trend_words(found.trend) if found.trend else f"{found.no_trend.capitalize()}.")
    out += ["", *(paragraph(line, layout.width) for line in lines)]
    if found.errors is not None:
        out += ["", *error_lines(found.errors, layout)]
    return "\n".join(out) + "\n"


def _trend_words(trend: Trend) -> str:
    rate, error = 100.0 * trend.per_month, 100.0 * trend.error
    since = "since the hull was cleaned" if trend.since_cleaned else "(no cleaning is noted)"
    sure = "" if abs(rate) > error else " That may be chance."
    return (
        f"Fuel {'grows' if rate >= 0.0 else 'falls'} by {abs(rate):.1f} % a month {since}, +- "
        f"{error:.1f} (two standard errors), of {trend.count} passages.{sure}"
    )


def error_lines(errors: FittedErrors, layout: Layout) -> list[str]:
    """Forecast errors by age, as a block for the odds, and the number of passages."""
    model = errors.model
    ages = ", ".join(
        f"{age:g} h: {count}" for age, count in zip(model.lead_h, errors.passages, strict=True)
    )
    lines = [
        paragraph(
            "Errors of these passages' forecasts against the sea as it was, drawn towards the "
            f"usual numbers where passages are few (passages by age: {ages}):",
            layout.width,
        ),
        "[forecast_error]",
        f"lead_h = {_list(model.lead_h)}",
    ]
    lines += [f"{name} = {_list(getattr(model, name))}" for name, _, _ in FITTED]
    if errors.height_bias is not None:
        seas = round(100.0 * np.expm1(errors.height_bias))
        if seas:
            word = "higher" if seas > 0 else "lower"
            lines.append(f"The sea came out {abs(seas)} % {word} than forecast, on average.")
    return lines


def _list(values: tuple[float, ...]) -> str:
    return f"[{', '.join(f'{value:.3g}' for value in values)}]"


def _table(found: RecordSummary, layout: Layout) -> list[str]:
    columns = [TextColumn("", left=True), TextColumn("", left=True), TextColumn("legs")]
    for rank, (key, _) in enumerate(KEPT):
        name = _NAMES[key].lower()
        columns += [
            TextColumn(f"{name}\nmiss %", 2 * rank + 1),
            TextColumn(f"{name}\nmodel %", 2 * rank + 2),
        ]
    rows = []
    for group in found.groups:
        cells = [group.kind, group.name]
        cells.append(str(max(one.count for one in (*group.miss.values(), *group.model.values()))))
        for key, _ in KEPT:
            cells += [_spread(group.miss[key]), _spread(group.model[key])]
        rows.append(cells)
    return list(fitted(columns, rows, layout)) if rows else ["No leg has fuel or roll to show."]


def _spread(one: Spread) -> str:
    if one.mean is None:
        return "-"
    mean = f"{round(100.0 * one.mean) + 0:+d}"
    return mean if one.deviation is None else f"{mean} +- {100.0 * one.deviation:.0f}"


def record_dict(found: RecordSummary) -> dict[str, Any]:
    """The record as plain dicts and lists; shares as fractions, None for missing."""
    errors = found.errors
    data = {
        "schema_version": RECORD_SCHEMA_VERSION,
        "passage_version": __version__,
        "answer": record_answer(found),
        "record_file": found.file,
        "vessel": found.vessel,
        "passages": [
            {"begin_utc": utc_text(one.begin_s), "end_utc": utc_text(one.end_s),
             "route": one.whole["route"], "legs": len(one.legs)}
            for one in found.passages
        ],
        "miss": {key: asdict(one) for key, one in found.whole.items()},
        "model": {key: one and asdict(one) for key, one in found.bands.items()},
        "with_other_numbers": dict(found.otherwise),
        "groups": [
            {
                "kind": group.kind,
                "name": group.name,
                "miss": {key: asdict(one) for key, one in group.miss.items()},
                "model": {key: asdict(one) for key, one in group.model.items()},
            }
            for group in found.groups
        ],
        "odds": [asdict(one) for one in found.kept],
        "trend": None if found.trend is None else asdict(found.trend),
        "no_trend": found.no_trend or None,
        "forecast_error": None
        if errors is None
        else {
            "lead_h": list(errors.model.lead_h),
            **{name: list(getattr(errors.model, name)) for name, _, _ in FITTED},
            "passages": list(errors.passages),
            "height_bias": errors.height_bias,
        },
    }  # fmt: skip
    return dict(plain(data))


def record_json(found: RecordSummary) -> str:
    """The record as JSON text."""
    return json.dumps(record_dict(found), indent=2, ensure_ascii=False, allow_nan=False) + "\n"
