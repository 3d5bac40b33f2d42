"""``passage review``: a log compared with the plan of the same passage."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np

from passage.errors import LogError
from passage.inputs.records.plan_file import PlanFile
from passage.inputs.records.recording import Recording
from passage.planning.review import doubts
from passage.planning.review.legs import (
    LegReview,
    fin_rms_deg,
    leg_reviews,
    roll_rms_deg,
)
from passage.planning.review.match import REST_KN, Match, match_legs
from passage.planning.review.spans import Spans, make_spans
from passage.planning.review.whole import whole_review
from passage.units import HOUR_S

#: A log that is always further off the planned track is of another passage. [nm]
FARTHEST_NM = 300.0
#: A log without positions must begin within this of the plan's departure. [h]
FARTHEST_H = 48.0


@dataclass(frozen=True, eq=False)
class Review:
    """Planned beside logged.

    ``doubts`` are remarks on the log, ``how`` on the conversions. ``late_h`` is how long
    after the planned departure she left [h]; None where not known.
    """

    plan: PlanFile
    log_file: str
    legs: tuple[LegReview, ...]
    whole: LegReview
    late_h: float | None
    doubts: tuple[str, ...]
    how: tuple[str, ...]
    spans: Spans = field(repr=False)
    match: Match = field(repr=False)


def review(log: Recording, plan: PlanFile) -> Review:
    """Compare a log with a plan.

    Raises
    ------
    LogError
        The log is not of this passage.
    """
    spans, trimmed = _under_way(make_spans(log), plan, log.file)
    spans, words = doubts.without_dead_meters(spans)
    match = match_legs(spans, plan)
    _refuse_other(spans, plan, match, log.file)
    legs = leg_reviews(plan, spans, match)
    whole = whole_review(legs)
    words = [*log.notes, *trimmed, *doubts.gap_words(spans), *words]
    words += doubts.clock_words(plan, spans, match)
    words += doubts.unit_words(plan, legs, whole)
    words += doubts.speed_words(spans)
    words += doubts.list_words(spans, legs)
    late = None
    if legs[0].begin_s is not None and legs[0].part >= 1.0:
        late = (legs[0].begin_s - plan.departure_s) / HOUR_S
    return Review(plan, log.file, legs, whole, late, tuple(words), _how(spans, match), spans, match)


def _under_way(spans: Spans, plan: PlanFile, file: str) -> tuple[Spans, list[str]]:
    """Spans without the time at the berth before and after, unless the plan has a stay there."""
    speed = np.where(
        np.isfinite(spans.over_ground_kn), spans.over_ground_kn, spans.through_water_kn
    )
    known = np.isfinite(speed)
    if not np.any(known):
        return spans, []
    moving = np.flatnonzero(known & (speed >= REST_KN))
    if not moving.size:
        raise LogError(f"{file}: has no time under way ({REST_KN:g} kn or more).")
    index, miles = plan.leg_index, plan.track["distance_nm"]
    keep = np.ones(len(spans), dtype=bool)
    if np.sum(miles[index == 0]) > 0.0:
        keep[: moving[0]] = False
    if np.sum(miles[index == index[-1]]) > 0.0:
        keep[moving[-1] + 1 :] = False
    hours = float(np.sum(spans.hours[~keep]))
    if hours < 0.02:
        return spans if np.all(keep) else spans.chosen(keep), []
    return spans.chosen(keep), [
        f"{hours:.1f} h at rest before leaving and after arriving are left out"
    ]


def _refuse_other(spans: Spans, plan: PlanFile, match: Match, file: str) -> None:
    if match.by_time:
        off_h = (float(spans.time_s[0]) - plan.departure_s) / HOUR_S
        if abs(off_h) > FARTHEST_H:
            raise LogError(
                f"{file}: has no positions, and begins {abs(off_h):.0f} h "
                f"{'after' if off_h > 0 else 'before'} the plan leaves. Add lat and lon, or give "
                "the plan of this passage."
            )
        return
    off = float(np.nanmin(match.off_nm))
    if off > FARTHEST_NM:
        raise LogError(
            f"{file}: never comes nearer to the planned track than {off:.0f} nm. Give the plan of "
            "this passage."
        )


def _how(spans: Spans, match: Match) -> tuple[str, ...]:
    words = []
    if match.by_time:
        words.append("legs: by time only, as the log has no positions")
    else:
        words.append("legs: by position and order; by time where position does not decide")
    for name, (value, _, how) in (
        ("roll rms", roll_rms_deg(spans)),
        ("fin angle rms", fin_rms_deg(spans)),
    ):
        if value is not None:
            words.append(f"{name}: {how}")
    if np.any(np.isfinite(spans.fuel_l_per_h)):
        words.append("fuel: main engines without generators, both planned and logged")
    return tuple(words)
