"""Cautions about fins that hunt, or nearly so, with the delay of their control."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, TypeAlias

import numpy as np
import numpy.typing as npt

from passage.physics.fins.use import UNDER_WAY_M_S
from passage.physics.roll.fin_margins import (
    LEAST_GAIN_MARGIN,
    LEAST_PHASE_MARGIN_RAD,
    LoopMargins,
    loop_margins,
)
from passage.physics.roll.response import HullRoll
from passage.planning.plan.result import Caution
from passage.planning.plan.weighting import control_delay_s, loop_margins_of
from passage.planning.voyage.yacht import Yacht
from passage.units import knots_to_m_s

if TYPE_CHECKING:
    from passage.planning.voyage.evaluate import Evaluation
    from passage.planning.voyage.march import March
    from passage.planning.voyage.prepare import Passage, PlanOptions

#: Factor by which a delay that was not measured may be longer (common practice).
DELAY_DOUBT = 2.0

#: Margins on each leg with the delay as given and with ``DELAY_DOUBT`` times it, and the legs
#: on which the fins work.
LegLoops: TypeAlias = tuple[list[LoopMargins], npt.NDArray[np.bool_]]


def hunting_note(yacht: Yacht, speeds_kn: npt.ArrayLike) -> str:
    """Sentence for fins that hunt at one of these speeds through the water; else empty."""
    speeds = np.unique(np.asarray(speeds_kn, dtype=float))
    flow = knots_to_m_s(speeds)
    # Below this speed their gains have no effect.
    works = flow >= UNDER_WAY_M_S
    if not yacht.has_fins or not np.any(works):
        return ""
    speeds, flow = speeds[works], flow[works]
    hull = HullRoll(yacht.natural_frequency_rad_s, yacht.hull_damping(flow))
    margins = loop_margins(hull, yacht.fins_at(flow))
    if not np.any(margins.gain_factor <= 1.0):
        return ""
    at = int(np.argmin(margins.gain_factor))
    factor, period = margins.gain_factor[at], margins.hunting_period_s[at]
    return (
        f"the fins hunt with these gains at {speeds[at]:g} kn: hunting begins at {factor:.2g} "
        f"times the gains of the vessel file, every {period:.1f} s. Keep the sensitivity below "
        f"{factor / LEAST_GAIN_MARGIN:.2g} of the present one. No roll with the fins at work, and "
        "no fuel, is given there."
    )


def leg_loops(
    passage: Passage, options: PlanOptions, way: March, evaluation: Evaluation
) -> LegLoops | None:
    """Margins of the fin loop by leg; None unless she has fins and they are active."""
    if options.fins != "active":
        return None
    return loop_margins_of(passage.yacht, passage.track, way, evaluation, (1.0, DELAY_DOUBT))


def near_hunting(yacht: Yacht, loops: LegLoops | None) -> list[Caution]:
    """Cautions for legs where the fins hunt, or have too small a gain or phase margin."""
    if loops is None:
        return []
    (margins, doubted), some = loops
    hunts = some & (margins.gain_factor <= 1.0)
    close = margins.gain_factor < LEAST_GAIN_MARGIN
    close |= margins.phase_margin_rad < LEAST_PHASE_MARGIN_RAD
    close &= some & ~hunts
    delay = " and ".join(f"{value:g}" for value in dict.fromkeys(control_delay_s(yacht)))
    twice = doubted.gain_factor
    cautions = []
    for where, severity in ((hunts, "warning"), (close, "caution")):
        if not np.any(where):
            continue
        at = int(np.argmin(np.where(where, margins.gain_factor, np.inf)))
        factor, period = margins.gain_factor[at], margins.hunting_period_s[at]
        begin = (
            "the fins hunt with these gains: hunting begins"
            if severity == "warning"
            else "the fins are close to hunting: it begins"
        )
        text = (
            f"{begin} at {factor:.2g} times the gains of the vessel file, every {period:.1f} s, "
            f"with a control delay of {delay} s (at {twice[at]:.2g} times with twice the delay). "
            f"Keep the sensitivity below {factor / LEAST_GAIN_MARGIN:.2g} of the present one."
        )
        if severity == "warning":
            text += " No roll with the fins at work is given there."
        legs = tuple(int(i) + 1 for i in np.flatnonzero(where))
        code = "fins_hunt" if severity == "warning" else "fins_near_hunting"
        cautions.append(Caution(code, severity, legs, text))
    return cautions


def margin_rows(loops: LegLoops | None) -> tuple[dict[str, Any], ...]:
    """Margins of the fin loop, a row for each leg on which the fins work.

    ``leg`` from 1, ``gain_margin_db`` [dB], ``phase_margin_deg`` [degree] and
    ``hunting_period_s`` [s]. None where no gain makes her hunt; a gain margin of 0 dB or less
    means that she hunts with the gains as set, and then no phase margin is given.
    """
    if loops is None:
        return ()
    (margins, _), some = loops
    hunts = margins.gain_factor <= 1.0
    gain_db = 20.0 * np.log10(margins.gain_factor)
    phase_deg = np.where(hunts, np.nan, np.degrees(margins.phase_margin_rad))
    period_s = np.where(np.isfinite(margins.gain_factor), margins.hunting_period_s, np.nan)
    return tuple(
        {"leg": int(at) + 1}
        | {
            key: float(values[at]) if np.isfinite(values[at]) else None
            for key, values in (
                ("gain_margin_db", gain_db),
                ("phase_margin_deg", phase_deg),
                ("hunting_period_s", period_s),
            )
        }
        for at in np.flatnonzero(some)
    )
