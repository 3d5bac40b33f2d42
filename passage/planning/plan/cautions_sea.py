"""Cautions about the sea: encounter conditions, slamming, water on deck, doubtful motions."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

import numpy as np

from passage.physics.fins.use import SLAMMING
from passage.physics.motions.encounter_cautions import (
    CAUTION_CODES,
    caution_text,
    encounter_cautions,
)
from passage.physics.motions.slamming import DECK_WETNESS_LIMIT, slam_probability_limit
from passage.physics.motions.strip_provider import DOUBT_WORDS as STRIP_WORDS
from passage.physics.motions.strip_provider import strip_doubt
from passage.physics.motions.vertical_motion import DOUBT_WORDS, HullForm, closed_form_doubt
from passage.physics.resistance.waves import MOST_TRIM_RAD, ResistanceHull
from passage.physics.waves.spectrum import period_ratio
from passage.planning.plan.result import Caution
from passage.planning.voyage.evaluate import Evaluation
from passage.planning.voyage.march import March
from passage.planning.voyage.yacht import Yacht

if TYPE_CHECKING:
    from passage.planning.voyage.prepare import Passage


def legs_of(passage: Passage, where: Any) -> tuple[int, ...]:
    """Numbers of the legs, from 1, that have a point where the mask is true."""
    return tuple(sorted({int(i) + 1 for i in passage.track.leg[np.asarray(where)]}))


def encounter(passage: Passage, way: March, evaluation: Evaluation) -> list[Caution]:
    sky = way.conditions
    energy = np.nan_to_num(sky.height_m, nan=0.0)
    top = np.argmax(energy, axis=-1)[..., None]

    def of_top(values: Any) -> Any:
        return np.take_along_axis(np.broadcast_to(values, energy.shape), top, axis=-1)[..., 0]

    under_way = passage.track.length_m > 0
    states = encounter_cautions(
        speed_m_s=np.where(under_way, way.speed_through_water_m_s, np.nan),
        mu_rad=of_top(evaluation.mu_rad),
        height_m=evaluation.values["significant_height_m"],
        mean_period_s=of_top(sky.peak_period_s) * period_ratio("mean", of_top(sky.gamma)),
        length_m=passage.vessel.particulars.length_waterline_m,
        roll_period_s=passage.yacht.natural_period_s,
    )
    # Below this rms roll, matching periods do not matter.
    felt = np.nan_to_num(evaluation.centred.roll_rms_rad, nan=0.0) > np.deg2rad(0.75)
    cautions = []
    for code in CAUTION_CODES:
        fired = getattr(states, code) == 1
        if code in ("synchronous_rolling", "parametric_rolling"):
            fired &= felt
        if code == "parametric_rolling":
            # Points with synchronous rolling are reported only as such.
            fired &= states.synchronous_rolling != 1
        if not np.any(fired):
            continue
        worst = int(np.argmax(np.where(fired, np.nan_to_num(states.height_m, nan=0.0), -1.0)))
        cautions.append(
            Caution(
                f"circ1228_{code}",
                "caution",
                legs_of(passage, fired),
                caution_text(states, code, worst) + " (Guidance of IMO MSC.1/Circ.1228.)",
            )
        )
    return cautions


def slamming(passage: Passage, evaluation: Evaluation) -> list[Caution]:
    # At anchor she cannot slow down.
    likely = (evaluation.fin_use == SLAMMING) & (passage.track.length_m > 0)
    slam = evaluation.numbers["slam"]
    if not np.any(likely):
        return _not_judged(passage, evaluation)
    roll = 2.0 * np.degrees(evaluation.active.roll_rms_rad[likely])
    price = ""
    if np.any(np.isfinite(roll)):
        price = f" Without them she rolls up to {np.nanmax(roll):.0f} deg significant there."
    return [
        Caution(
            "slamming",
            "warning",
            legs_of(passage, likely),
            f"slamming likely: up to {100 * np.nanmax(slam[likely]):.1f} % of waves (Ochi 1964). "
            "Slow down and alter course; fins centred, not locked, as this plan assumes." + price,
        ),
        *_not_judged(passage, evaluation),
    ]


def trim_note(hull: ResistanceHull) -> str:
    """Sentence for a trim beyond the range of the added-resistance formula; else empty."""
    if hull.trim_rad <= MOST_TRIM_RAD:
        return ""
    trim_m = abs(hull.draught_aft_m - hull.draught_fore_m)
    most = hull.length_m * float(np.tan(MOST_TRIM_RAD))
    return (
        f"bow draught {hull.draught_fore_m:g} m and mean draught {hull.draught_aft_m:g} m are "
        f"{trim_m:.2f} m apart, more than the {most:.2f} m for which the formula "
        "of added resistance holds: the waves' fuel is that of this smaller trim, and "
        "doubtful. Check bow_draught_m in the vessel file."
    )


def trim_range(yacht: Yacht) -> list[Caution]:
    """:func:`trim_note` as a caution."""
    text = trim_note(yacht.resistance_hull)
    return [Caution("trim_beyond_formula", "caution", (), text)] if text else []


def _not_judged(passage: Passage, evaluation: Evaluation) -> list[Caution]:
    """Note where the formula would centre the fins but the sea does not come from ahead."""
    slam = evaluation.numbers["slam"]
    limit = float(slam_probability_limit(passage.vessel.particulars.length_waterline_m))
    left_out = ~evaluation.numbers["slam_judged"] & (slam >= limit) & (passage.track.length_m > 0)
    if not np.any(left_out):
        return []
    text = (
        f"the slamming formula gives {100 * np.nanmax(slam[left_out]):.0f} % of waves in a sea "
        "from abeam or abaft, where it is not valid: it is ignored, and the fins count as working."
    )
    return [Caution("slamming_not_judged", "note", legs_of(passage, left_out), text)]


def wet_deck(passage: Passage, legs: Sequence[dict[str, Any]]) -> list[Caution]:
    limit = passage.vessel.limits.underway.deck_wetness_probability
    percent = 100.0 * (DECK_WETNESS_LIMIT if limit is None else limit)
    wet = [leg for leg in legs if (leg["deck_wetness_percent"] or 0.0) > percent]
    if not wet:
        return []
    worst = max(leg["deck_wetness_percent"] for leg in wet)
    text = (
        f"water over the bow rail in up to {worst:.0f} % of the waves met (limit {percent:g} %): "
        "keep people off the foredeck and slow down."
    )
    return [Caution("deck_wetness", "caution", tuple(leg["leg"] for leg in wet), text)]


def doubts(passage: Passage, way: March, evaluation: Evaluation) -> list[Caution]:
    """Notes where motions by strip theory, or by the closed forms, are doubtful."""
    hull = passage.vessel.particulars
    if not passage.yacht.own_motions:
        return []
    sea = (
        evaluation.values["peak_period_s"],
        np.radians(evaluation.values["encounter_angle_deg"]),
        way.speed_through_water_m_s,
    )
    if passage.yacht.strips is not None:
        code, sentences = strip_doubt(*sea, hull.length_waterline_m), STRIP_WORDS
    else:
        form = HullForm(
            length_m=hull.length_waterline_m,
            beam_m=hull.beam_waterline_m,
            draught_m=hull.draught_m,
            block_coefficient=hull.block_coefficient,
        )
        code, sentences = closed_form_doubt(*sea, form), DOUBT_WORDS
    return [
        Caution("motions_doubt", "note", legs_of(passage, (code & bit) > 0), f"{words}.")
        for bit, words in sentences.items()
        if np.any(code & bit)
    ]


def flat_calm(passage: Passage, way: March) -> list[Caution]:
    """Warning for a wave height of exactly 0 everywhere, usually a file without values."""
    height = way.conditions.total_height_m
    known = np.isfinite(height)
    if not np.any(known) or np.any(height[known] != 0.0):
        return []
    text = (
        "the wave height is exactly 0 on the whole passage: a flat calm, or a file whose values "
        "were lost. Look at the forecast itself before believing it."
    )
    return [Caution("height_zero", "warning", (), text)]
