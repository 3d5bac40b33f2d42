"""Transfers and tanks by leg of a plan, in the same words for screen, page and sheet."""

from __future__ import annotations

from passage.planning.plan.result import PlannedPassage

#: A tank whose content changes by less than this is not shown [m3].
_STILL_M3 = 0.05


def transfer_orders(plan: PlannedPassage) -> list[str]:
    """Each transfer ordered, as ``before leg 1: 2.3 m3 from fuel starboard to fuel port``."""
    return [
        f"before leg {row['leg']}: {move['m3']:.1f} m3 from {move['from']} to {move['to']}"
        for row in plan.tanks
        for move in row["transfers"]
    ]


def tank_table(plan: PlannedPassage) -> tuple[list[str], list[list[str]]]:
    """Tanks that change, GM, draught and trim as each leg ends; empty without transfers."""
    if not any(row["transfers"] for row in plan.tanks):
        return [], []
    known = [row["content_end_m3"] for row in plan.tanks if row["content_end_m3"]]
    moved = {m[end] for row in plan.tanks for m in row["transfers"] for end in ("from", "to")}
    names = []
    for name in known[0] if known else {}:
        contents = [content[name] for content in known]
        if name in moved or max(contents) - min(contents) > _STILL_M3:
            names.append(name)
    headings = ["leg", *(f"{name}, m3" for name in names), "GM, m", "draught, m", "trim, m"]
    rows = []
    for row in plan.tanks:
        content = row["content_end_m3"] or dict.fromkeys(names)
        cells = [(content[name], ".2f") for name in names]
        cells += [
            (row["fluid_gm_least_m"], ".2f"),
            (row["draught_m"], ".2f"),
            (row["trim_change_m"], "+.2f"),
        ]
        shown = ("-" if v is None or v != v else format(v, spec) for v, spec in cells)
        rows.append([str(row["leg"]), *shown])
    return headings, rows


def floats_words(plan: PlannedPassage) -> str:
    """Least GM of the passage and trim on arrival, as a clause."""
    least = [row["fluid_gm_least_m"] for row in plan.tanks if row["fluid_gm_least_m"] is not None]
    words = f"least fluid GM {min(least):.2f} m" if least else "fluid GM not known"
    trim = plan.tanks[-1]["trim_change_m"] if plan.tanks else None
    if trim is None or trim != trim:
        return f"{words}, trim not known"
    if abs(trim) < 0.005:
        return f"{words}, trim unchanged"
    return f"{words}, trim changed by {abs(trim):.2f} m by the {'bow' if trim > 0 else 'stern'}"
