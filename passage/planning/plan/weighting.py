"""Fin gains by leg: the mix of rate, angle and acceleration that rolls least.

Near resonance the fins should answer roll rate; at long encounter periods (quartering and
following seas) roll angle. The best mix on a leg follows from its sea, at the fin effort of
the gains in the vessel file.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import TYPE_CHECKING, Any

import numpy as np
import numpy.typing as npt

from passage.inputs.route import Track
from passage.physics.fins import use
from passage.physics.fins.force import Fins
from passage.physics.roll.fin_margins import LEAST_GAIN_MARGIN, LoopMargins, loop_margins
from passage.physics.roll.fin_weighting import GainCheck, advise_gains, check_gains
from passage.physics.roll.response import HullRoll
from passage.planning.voyage.legs import leg_mean, leg_starts, leg_sum
from passage.planning.voyage.yacht import Yacht
from passage.units import knots_to_m_s, rad_to_deg

if TYPE_CHECKING:
    from passage.planning.voyage.evaluate import Evaluation
    from passage.planning.voyage.march import March

Array = npt.NDArray[np.float64]

#: Least reduction of roll, as a share, for which a change of gains is advised.
WORTH_SHARE = 0.03
#: Encounter period over roll period above which the sentences call it long, and below the
#: inverse of which short.
LONG_RATIO = 1.25


def leg_problem(
    yacht: Yacht, track: Track, way: March, evaluation: Evaluation
) -> tuple[Array, HullRoll, Fins, npt.NDArray[np.bool_]]:
    """Roll problem of each leg: its sea, averaged over the time with active fins.

    Returns excitation (legs, nodes) [rad2], hull, fins, and the legs with active fins.
    """
    starts = leg_starts(track.leg)
    active = evaluation.fin_use == use.ACTIVE
    weight = np.where(active, way.hours, 0.0)
    hours = leg_sum(weight, starts)
    some = hours > 0.0

    def mean(values: Array) -> Array:
        total = leg_sum(np.where(active, values, 0.0) * weight, starts)
        return np.where(some, total / np.where(some, hours, 1.0), np.nan)

    excitation = np.stack([mean(node) for node in np.moveaxis(evaluation.excitation, -1, 0)], -1)
    speed = mean(way.speed_through_water_m_s)
    return excitation, yacht.hull_roll(speed), yacht.fins_at(speed), some


def weighting_decisions(
    yacht: Yacht,
    track: Track,
    way: March,
    evaluation: Evaluation,
    legs: Sequence[dict[str, Any]],
) -> list[dict[str, Any]]:
    """One decision for every leg with active fins: the gains that roll least, and the reason.

    Gains are at the reference speed of the first pair, as in the vessel file, and the same for
    every pair.
    """
    if not yacht.has_fins:
        return []
    excitation, hull, fins, some = leg_problem(yacht, track, way, evaluation)
    advice = advise_gains(excitation, yacht.excitation.nodes_rad_s, hull, fins)
    starts = leg_starts(track.leg)
    speed = leg_mean(way.speed_through_water_m_s, way.hours, starts)
    reference = knots_to_m_s(yacht.vessel.fins[0].reference_speed_kn)
    back = (speed / reference) ** 2
    rows = []
    for i, leg in enumerate(legs):
        if not some[i] or not np.isfinite(advice.roll_saved[i]):
            continue
        saved = float(advice.roll_saved[i])
        gains = {
            "rate_gain_s": float(advice.rate_gain_s[i] * back[i]),
            "angle_gain": float(advice.angle_gain[i] * back[i]),
            "acceleration_gain_s2": float(advice.acceleration_gain_s2[i] * back[i]),
        }
        given = 2.0 * rad_to_deg(advice.given_roll_rms_rad[i])
        best = 2.0 * rad_to_deg(advice.roll_rms_rad[i])
        ratio = float(leg["encounter_period_s"]) / yacht.natural_period_s
        if saved < WORTH_SHARE:
            text = f"Leg {leg['leg']}: the vessel file's gains are good ({_sea_words(ratio)})."
            choice = "keep"
        else:
            text = (
                f"Leg {leg['leg']}: rate {gains['rate_gain_s']:.1f} s, angle "
                f"{gains['angle_gain']:.1f}, acceleration {gains['acceleration_gain_s2']:.1f} s2 "
                f"at the reference speed roll {best:.1f} instead of {given:.1f} deg significant "
                f"for the same fin work ({_sea_words(ratio)}); a gain margin of "
                f"{20.0 * np.log10(LEAST_GAIN_MARGIN):.0f} dB or more is kept."
            )
            choice = "change"
        rows.append(
            {
                "kind": "fin_gains",
                "legs": [leg["leg"]],
                "choice": choice,
                "gains": gains,
                "roll_given_significant_deg": float(given),
                "roll_best_significant_deg": float(best),
                "fin_effort_rms_deg": float(rad_to_deg(advice.effort_rad[i])),
                "text": text,
            }
        )
    return rows


def _sea_words(ratio: float) -> str:
    if ratio > LONG_RATIO:
        return "long encounter period: angle counts"
    if ratio < 1.0 / LONG_RATIO:
        return "short encounter period: acceleration helps"
    return "encounter near the roll period: rate counts"


def gains_too_high(
    yacht: Yacht, track: Track, way: March, evaluation: Evaluation
) -> tuple[GainCheck, tuple[int, ...]] | None:
    """Legs (from 1) on which half the gains would give no more roll; None if there are none."""
    if not yacht.has_fins:
        return None
    excitation, hull, fins, some = leg_problem(yacht, track, way, evaluation)
    check = check_gains(excitation, yacht.excitation.nodes_rad_s, hull, fins)
    legs = tuple(int(i) + 1 for i in np.flatnonzero(check.too_high & some))
    return (check, legs) if legs else None


def control_delay_s(yacht: Yacht) -> Array:
    """Delay of the control of each fin pair, from the vessel file. [s]"""
    return np.array([pair.delay_s for pair in yacht.vessel.fins])


def loop_margins_of(
    yacht: Yacht, track: Track, way: March, evaluation: Evaluation, delay_factors: Sequence[float]
) -> tuple[list[LoopMargins], npt.NDArray[np.bool_]] | None:
    """Margins of the fins' loop on each leg, and the legs with active fins; None without fins.

    There is one set of margins for each of ``delay_factors``, which multiply every pair's delay.
    """
    if not yacht.has_fins:
        return None
    _, hull, fins, some = leg_problem(yacht, track, way, evaluation)
    delay = np.asarray(fins.delay_s)
    return [loop_margins(hull, replace(fins, delay_s=f * delay)) for f in delay_factors], some
