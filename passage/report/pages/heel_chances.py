"""Odds of the heel advice on its page, for every way."""

from __future__ import annotations

from passage.planning.heel.heel import HeelAnswer
from passage.report.drawing.blocks import Block, Column, Notes, Table
from passage.report.text.heel_chances import limit_set, source_words


def chance_blocks(answer: HeelAnswer) -> list[Block]:
    """A row for each way, with the advice marked, and the source; empty without odds."""
    found = answer.chances
    if found is None:
        return []
    heads = [
        Column("way"), Column("best in", "%", 0), Column("mean", "l", 0), Column("10 %", "l", 0),
        Column("90 %", "l", 0), Column("behind the best", "l", 0),
    ]  # fmt: skip
    judged = limit_set(answer)
    if judged:
        heads += [Column("limit kept", "%", 0), Column("over the limit", "h", 1)]
    rows: list[list[object]] = [
        [
            one.priced.name, one.best_percent, one.expected_l, one.spread_l[0], one.spread_l[2],
            one.behind_l, *((one.limit_percent, one.over_h) if judged else ()),
        ]
        for one in found.ways
    ]  # fmt: skip
    caption = f"The ways over {found.draws} {found.what}; behind: where it is not the best"
    table = Table(heads, rows, caption=caption, marked=[0], mark="advised")
    return [table, Notes([source_words(answer)])]
