"""Cautions about wind and current that are not known along the track."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from passage.planning.plan.cautions_sea import legs_of
from passage.planning.plan.result import Caution
from passage.planning.voyage.flows import (
    FLOW_SHARE,
    LEFT_OUT,
    commonest_reason,
    flows_missing,
    gap_shares,
    missing_words,
    not_given_words,
    unknown_words,
)
from passage.planning.voyage.march import March

if TYPE_CHECKING:
    from passage.inputs.forecast import Forecast
    from passage.inputs.route import Track
    from passage.planning.voyage.prepare import Passage


def missing_flows(track: Track, way: March, given: tuple[str, ...]) -> list[Caution]:
    """Warnings for wind or current that the files contain but no point of the passage has."""
    return [
        Caution(
            f"{flow}_missing",
            "warning",
            (),
            missing_words(flow, commonest_reason(getattr(way.conditions, f"{flow}_coverage"))),
        )
        for flow, missing in flows_missing(way.conditions, track.length_m, given).items()
        if np.any(missing)
    ]


def doubted_period(forecast: Forecast) -> list[Caution]:
    """A caution where no file gives the period of what the named seas leave of the total."""
    # A sea that holds everywhere has no files.
    words = getattr(forecast, "period_doubt", "")
    return [Caution("rest_period", "caution", (), f"{words}.")] if words else []


def short_flows(passage: Passage, way: March, given: tuple[str, ...]) -> list[Caution]:
    """Cautions for wind or current unknown on part of the passage, or in no file at all."""
    cautions = []
    track = passage.track
    missing_all = flows_missing(way.conditions, track.length_m, given)
    for flow in ("wind", "current"):
        if flow == "wind" and passage.vessel.windage is None:
            continue
        if flow not in given:
            severity = "caution" if flow == "wind" else "note"
            cautions.append(Caution(f"{flow}_none", severity, (), not_given_words(flow)))
            continue
        if np.any(missing_all[flow]):
            continue
        codes = getattr(way.conditions, f"{flow}_coverage")
        missing = (codes != 0) & (track.length_m > 0)
        if not np.any(missing):
            continue
        shares = gap_shares(codes, track, way.hours)
        much = {leg + 1: float(share) for leg, share in enumerate(shares) if share > FLOW_SHARE}
        if much:
            shown = [f"{100.0 * share:.0f} % of leg {leg}" for leg, share in much.items()]
            where = " and ".join([", ".join(shown[:-1]), shown[-1]] if shown[1:] else shown)
            text = unknown_words(flow, where)
            cautions.append(Caution(f"{flow}_gap", "caution", tuple(much), text))
        few = tuple(leg for leg in legs_of(passage, missing) if leg not in much)
        if few:
            text = f"no {flow} is known on part of the way; {LEFT_OUT[flow]} there."
            cautions.append(Caution(f"{flow}_gap", "note", few, text))
    return cautions
