"""What people feel at the places on board, worst place first."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import numpy.typing as npt

from passage.physics.comfort import (
    motion_sickness_dose,
    running_dose,
    sickness_percent_from_dose,
)
from passage.physics.motions import (
    lateral_acceleration_rms,
    vertical_acceleration_rms,
    weighted_acceleration_rms,
)
from passage.physics.roll_response import RollResponse
from passage.units import G_M_S2

if TYPE_CHECKING:
    from passage.planning.march import March
    from passage.planning.yacht import Yacht

Array = npt.NDArray[np.float64]


def comfort_at_points(
    yacht: Yacht, roll: RollResponse, sea: Array, march: March, hours: Array
) -> dict[str, Array]:
    """Accelerations and motion sickness at the worst place, of shape ``P``.

    The worst place is taken point by point for accelerations; for sickness, whose
    dose grows over the passage, each place has its own running dose and the highest
    is reported. Unknown points stop the running dose: what follows is unknown too.
    """
    motions = yacht.motions
    m0, m2, m4 = (
        roll.roll_rms_rad**2,
        roll.rate_rms_rad_s**2,
        roll.acceleration_rms_rad_s2**2,
    )
    sway = sea[..., motions.channel("sway_acceleration")]
    axis = yacht.vessel.roll.axis_above_waterline_m
    vertical, lateral, sick = [], [], []
    channels = zip(
        motions.channels("vertical_acceleration"),
        motions.channels("weighted_acceleration"),
        strict=True,
    )
    for place, (plain, weighted) in zip(yacht.places, channels, strict=True):
        vertical.append(vertical_acceleration_rms(sea[..., plain], place.y_m, m4))
        lateral.append(lateral_acceleration_rms(m0, m2, m4, place.z_m - axis, sway))
        felt = weighted_acceleration_rms(sea[..., weighted], place.y_m, m2, m4)
        dose = running_dose(motion_sickness_dose(felt, hours))
        sick.append(sickness_percent_from_dose(dose))
    if not vertical:
        nothing = np.full(m0.shape, np.nan)
        vertical, lateral, sick = [nothing], [nothing], [nothing]
    return {
        "vertical_acceleration_rms_g": np.maximum.reduce(vertical) / G_M_S2,
        "lateral_acceleration_rms_g": np.maximum.reduce(lateral) / G_M_S2,
        "motion_sickness_percent": np.maximum.reduce(sick),
    }
