"""What a plan says of fins that are near to hunting with the delay of their control."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from passage.physics.roll.fin_margins import LEAST_GAIN_MARGIN, LEAST_PHASE_MARGIN_RAD
from passage.planning.plan.result import Caution
from passage.planning.plan.weighting import control_delay_s, loop_margins_of

if TYPE_CHECKING:
    from passage.planning.voyage.evaluate import Evaluation
    from passage.planning.voyage.march import March
    from passage.planning.voyage.prepare import Passage, PlanOptions

#: A delay that nobody measured may be this many times longer (common practice).
DELAY_DOUBT = 2.0


def near_hunting(
    passage: Passage, options: PlanOptions, way: March, evaluation: Evaluation
) -> list[Caution]:
    """Legs whose gains hunt, or leave less than the stated gain or phase margin."""
    if options.fins != "active":
        return []
    yacht, track = passage.yacht, passage.track
    found = loop_margins_of(yacht, track, way, evaluation)
    doubted = loop_margins_of(yacht, track, way, evaluation, DELAY_DOUBT)
    if found is None or doubted is None:
        return []
    margins, some = found
    hunts = some & (margins.gain_factor <= 1.0)
    close = margins.gain_factor < LEAST_GAIN_MARGIN
    close |= margins.phase_margin_rad < LEAST_PHASE_MARGIN_RAD
    close &= some & ~hunts
    delay = " and ".join(f"{value:g}" for value in dict.fromkeys(control_delay_s(yacht)))
    twice = doubted[0].gain_factor
    cautions = []
    for where, severity in ((hunts, "warning"), (close, "caution")):
        if not np.any(where):
            continue
        at = int(np.argmin(np.where(where, margins.gain_factor, np.inf)))
        factor, period = margins.gain_factor[at], margins.hunting_period_s[at]
        begin = (
            "the fins hunt with these gains: they begin to"
            if severity == "warning"
            else "the fins are near to hunting: they begin to"
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
