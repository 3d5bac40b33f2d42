"""The verdict of the heel decision in the form that every answer opens with."""

from __future__ import annotations

import numpy as np

from passage.planning.heel.heel import HeelAnswer
from passage.planning.heel.options import Priced
from passage.report.drawing.blocks import Figure
from passage.report.text.verdict import NO_LIMIT_WORD, Verdict, number


def heel_verdict(answer: HeelAnswer) -> Verdict:
    """The advice, what it costs and leaves; over where a limit is not kept or a warning stands."""
    plan = answer.plan.plan
    head, dot, rest = answer.verdict.partition(". ")
    warned = any(caution.severity == "warning" for caution in answer.cautions)
    state = "within" if plan.within_limit and not warned else "over"
    word = "Within the limits" if state == "within" else "Over a limit"
    judged = limit_set(answer)
    if not judged and state == "within":
        state, word = "unknown", NO_LIMIT_WORD
    if warned and plan.within_limit:
        word = "With a warning"
    by_name = {one.name: one for one in answer.plan.policies}
    figures = [_figure("As advised", plan, judged)]
    for label, name in (
        ("Fins hold all", "fins hold all of it"),
        ("Never correct", "never correct"),
    ):
        if name in by_name and by_name[name] is not plan:
            figures.append(_figure(label, by_name[name], judged))
    return Verdict(state, head + ("." if dot else ""), rest, "", tuple(figures), word)


def limit_set(answer: HeelAnswer) -> bool:
    """Whether the owner sets a limit of steady heel for any part of the passage."""
    return bool(np.any(np.isfinite(answer.plan.comparison.problem.limit_deg)))


def _figure(label: str, one: Priced, judged: bool) -> Figure:
    under = (
        ""
        if not judged
        else "within the limit"
        if one.within_limit
        else (f"over the limit for {one.over_limit_h.sum():.1f} h")
    )
    return Figure(label, number(one.total_l), "l", under, "note" if one.within_limit else "limit")
