"""The march of one route at one speed, at every departure at once."""

from __future__ import annotations

from dataclasses import dataclass
from functools import partial
from typing import TYPE_CHECKING, Any

import numpy as np
import numpy.typing as npt

from passage.planning.voyage.held import held_way
from passage.planning.voyage.march import March, march
from passage.planning.voyage.policy import OwnDrag, fuel_rule
from passage.planning.voyage.rolling import Choices
from passage.units import knots_to_m_s

if TYPE_CHECKING:
    from passage.inputs.forecast import Forecast
    from passage.planning.compare.cell import CellTask
    from passage.planning.voyage.yacht import Yacht

Array = npt.NDArray[np.float64]


@dataclass(frozen=True, eq=False)
class Version:
    """The version of the forecast that each departure meets (see `odds.versions`).

    ``member`` broadcasts to the departures; ``first_s`` is a first guess of the times at
    the points.
    """

    member: Any = 0
    first_s: Array | None = None

    def rows(self, rows: npt.NDArray[np.bool_]) -> Version:
        """The version for some of the departures."""
        first = None if self.first_s is None else self.first_s[rows]
        return Version(np.broadcast_to(self.member, rows.shape)[rows], first)


#: The forecast as it is.
AS_IS = Version()


def way_of(
    yacht: Yacht,
    task: CellTask,
    forecast: Forecast,
    departure_s: Array,
    hold: str,
    choices: Choices,
) -> tuple[March, OwnDrag | None]:
    """The march of every departure; at a held fuel rate also her own drag that slows her."""
    if hold != "fuel":
        return sailed(yacht, task, forecast, departure_s, hold, None), None
    return held_way(
        yacht.vessel,
        yacht,
        task.track.leg,
        (),
        choices,
        lambda rule, first_s: sailed(
            yacht, task, forecast, departure_s, hold, rule, Version(first_s=first_s)
        ),
        partial(fuel_rule, yacht, choices.wave_method),
        length_m=task.track.length_m,
    )


def sailed(
    yacht: Yacht,
    task: CellTask,
    forecast: Forecast,
    departure_s: Array,
    hold: str,
    rule: Any,
    version: Version = AS_IS,
) -> March:
    """The march of every departure."""
    return march(
        task.track,
        forecast,
        departure_s,
        knots_to_m_s(task.track.speed_kn),
        hold="ground" if hold == "ground" else "water",
        rule=rule,
        member=version.member,
        at_rest_heading=yacht.vessel.particulars.anchored_heading,
        first_s=version.first_s,
    )
