"""Several vessels over the same season as a page of its own."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from passage.planning.season.season import SeasonResult
from passage.planning.season.side_by_side import side_by_side
from passage.report.drawing.blocks import Block, Column, Notes, Section, Table
from passage.report.pages.page import render_page
from passage.report.pages.season import shares_by_month, standing_section
from passage.report.text.season import ODDS
from passage.report.text.season_pair import (
    WORDS,
    groups,
    heads,
    own_answers,
    pair_verdict,
    rows_of,
    title,
    vessel_names,
)


def _record(result: SeasonResult, p: int, month: int) -> dict[str, Any] | None:
    label = result.labels[p]
    return next(
        (r for r in result.records if r["month"] == month and all(r[k] == label[k] for k in label)),
        None,
    )


def pair_page(results: Sequence[SeasonResult]) -> str:
    """The page as text: shares of all vessels by month, then the tables."""
    pairs, names = side_by_side(results), vessel_names(results)
    months = sorted({pair.month for pair in pairs} - {0})
    blocks: list[Block] = [Notes(own_answers(results))]
    charts: list[Block] = []
    for p, label in enumerate(results[0].labels):

        def record(v: int, month: int, p: int = p) -> dict[str, Any] | None:
            return _record(results[v], p, month)

        charts.append(
            shares_by_month(
                f"Within limits: {label['route']}, {label['speed_kn']:g} kn",
                "Departures within limits, %", names, months, record, key=f"within-{p}",
            )
        )  # fmt: skip
    columns = [Column("month")] + [Column(head.replace("\n", " ")) for head, _ in heads()[1:]]
    tables: list[Block] = [
        Table(columns, [[*row] for row in rows_of(results, pairs, v, p)],
              caption=title(results, v, p))
        for v, p in groups(pairs)
    ]  # fmt: skip
    provenance = results[0].provenance
    return render_page(
        f"{' and '.join(names)}: departures over the years",
        [
            Section("Each on her own", blocks=blocks, short="Each"),
            Section("Within the owner's limits", blocks=charts, short="Limits"),
            Section("Difference by month", WORDS, tables, short="Months"),
            *(
                section
                for name, result in zip(names, results, strict=True)
                for section in standing_section(result, name)
            ),
        ],
        subtitle=f"{provenance['from_utc'][:10]} to {provenance['to_utc'][:10]}, a departure every "
        f"{provenance['every_h']:g} hours",
        footer=ODDS,
        verdict=pair_verdict(results, pairs),
    )
