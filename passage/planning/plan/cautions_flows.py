"""What a plan says of wind and current that are missing on the way."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import numpy.typing as npt

from passage.inputs.coast.coastline import distance_to_land_nm
from passage.planning.plan.cautions_sea import legs_of
from passage.planning.plan.result import Caution
from passage.planning.voyage.flows import EFFECTS, commonest_reason, flows_missing, missing_words
from passage.planning.voyage.march import March
from passage.variables import COVERAGE

if TYPE_CHECKING:
    from passage.inputs.route import Track
    from passage.planning.voyage.prepare import Passage

#: Share of a leg's hours without wind or current from which it is more than a remark.
FLOW_SHARE = 0.2
#: A point masked in a grid of wind or current this near to land is beside it (assumption;
#: a cell of a coarse grid). [nm]
BESIDE_LAND_NM = 10.0
_LEFT_OUT = {
    "wind": "wind resistance and wind heel are left out",
    "current": "none is taken",
}


def missing_flows(track: Track, way: March, given: tuple[str, ...]) -> list[Caution]:
    """A warning for wind or current that the files give and no point of the way has."""
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


def short_flows(passage: Passage, way: March, given: tuple[str, ...]) -> list[Caution]:
    """Wind or current missing on part of the way, or given by no file at all."""
    cautions = []
    track = passage.track
    missing_all = flows_missing(way.conditions, track.length_m, given)
    for flow in ("wind", "current"):
        if flow == "wind" and passage.vessel.windage is None:
            continue
        if flow not in given:
            severity = "caution" if flow == "wind" else "note"
            text = f"no {flow} is given: {EFFECTS[flow]}."
            cautions.append(Caution(f"{flow}_none", severity, (), text))
            continue
        if np.any(missing_all[flow]):
            continue
        codes = getattr(way.conditions, f"{flow}_coverage")
        missing = (codes != 0) & (track.length_m > 0)
        if not np.any(missing):
            continue
        shares = _shares_of_legs(track, way, missing & ~_beside_land(track, codes, missing))
        much = {leg: share for leg, share in shares.items() if share > FLOW_SHARE}
        if much:
            told = ", ".join(f"{100.0 * share:.0f} %" for share in much.values())
            of = "the leg" if len(much) == 1 else "the legs"
            text = f"no {flow} is known on {told} of {of}; {_LEFT_OUT[flow]} there."
            cautions.append(Caution(f"{flow}_gap", "caution", tuple(much), text))
        few = tuple(leg for leg in legs_of(passage, missing) if leg not in much)
        if few:
            text = f"no {flow} is known on part of the way; {_LEFT_OUT[flow]} there."
            cautions.append(Caution(f"{flow}_gap", "note", few, text))
    return cautions


def _beside_land(
    track: Track, codes: npt.NDArray[np.int8], missing: npt.NDArray[np.bool_]
) -> npt.NDArray[np.bool_]:
    """Masked points within reach of land, where a grid has none: taken as none, and noted."""
    masked = missing & (codes == COVERAGE.index("masked"))
    beside = np.zeros(masked.shape, bool)
    if np.any(masked):
        nearest = distance_to_land_nm(track.lat_deg[masked], track.lon_deg[masked])
        beside[masked] = nearest <= BESIDE_LAND_NM
    return beside


def _shares_of_legs(track: Track, way: March, where: npt.NDArray[np.bool_]) -> dict[int, float]:
    """Share of the hours of each leg, by its number from 1, where it is not nothing."""
    hours = np.nan_to_num(way.hours, nan=0.0)
    shares = {}
    for leg in np.unique(track.leg[where]):
        here = track.leg == leg
        shares[int(leg) + 1] = float(np.sum(hours[here & where]) / max(np.sum(hours[here]), 1e-9))
    return shares
