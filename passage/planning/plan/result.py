"""A planned passage, the input of every output."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Any

import numpy as np
import numpy.typing as npt

from passage.variables import COVERED

#: Version of the JSON layout; raised when a key changes its meaning or is removed.
SCHEMA_VERSION = "1.0"


@dataclass(frozen=True)
class Caution:
    """Something for the master to think about, with its numbers.

    ``severity`` is "note", "caution" or "warning"; ``legs`` are numbers from 1, empty if it
    concerns the whole passage.
    """

    code: str
    severity: str
    legs: tuple[int, ...]
    text: str


@dataclass(frozen=True)
class PlannedPassage:
    """A computed passage.

    ``legs`` has one dict for each leg with the keys of ``variables.LEG_VARIABLES``; ``points``
    has the same quantities at the points along the track (one-dimensional arrays, in the units
    of ``variables.py``), with ``time_s``, ``lat_deg``, ``lon_deg`` and ``leg``. ``marks`` are
    further values for charts (limits, fin stops, heights by system) and ``sea`` is the sea
    around the route at a few times, for the map; both are for reports only. ``tanks`` has a row
    for each leg: transfers, contents, GM, draught and trim. ``judged`` has a row for each limit
    and leg: the worst window, its time, and the hours over the limit. ``ends`` are latitude and
    longitude of the ends of the segments (n + 1) [deg]; ``vessel_text`` is the vessel file as
    read, empty if the vessel was changed since. ``fin_loop`` has the gain and phase margins of
    the fins' control on each leg where they work.
    """

    vessel_name: str
    route_name: str
    departure_s: float
    legs: tuple[dict[str, Any], ...]
    totals: dict[str, Any]
    cautions: tuple[Caution, ...]
    decisions: tuple[dict[str, Any], ...]
    provenance: dict[str, Any]
    points: dict[str, npt.NDArray[Any]] = field(repr=False)
    notes: tuple[str, ...] = ()
    limits_exceeded: tuple[str, ...] = ()
    judged: tuple[dict[str, Any], ...] = field(default=(), repr=False)
    marks: dict[str, Any] = field(default_factory=dict, repr=False)
    sea: tuple[Any, ...] = field(default=(), repr=False)
    tanks: tuple[dict[str, Any], ...] = field(default=(), repr=False)
    ends: tuple[npt.NDArray[np.float64], ...] = field(default=(), repr=False)
    vessel_text: str = field(default="", repr=False)
    fin_loop: tuple[dict[str, Any], ...] = field(default=(), repr=False)

    @property
    def fully_covered(self) -> bool:
        """Whether every point has a sea, and wind and current of the files cover the passage.

        A sea from the nearest cell, or sheltered water, that the user asked for counts as
        covered; the result says so.
        """
        if self.flows_missing or self.flows_short:
            return False
        return all(leg["coverage"] in COVERED for leg in self.legs)

    @property
    def flows_missing(self) -> tuple[str, ...]:
        """Wind or current that the files contain but no point of the passage has."""
        codes = {caution.code for caution in self.cautions}
        return tuple(flow for flow in ("wind", "current") if f"{flow}_missing" in codes)

    @property
    def flows_short(self) -> tuple[str, ...]:
        """Wind or current that no file contains though it matters, or unknown on much of a leg."""
        codes = {c.code for c in self.cautions if c.severity == "caution"}
        return tuple(
            flow for flow in ("wind", "current") if codes & {f"{flow}_gap", f"{flow}_none"}
        )


def plain(value: Any) -> Any:
    """Value for JSON: NaN and infinity become None, numpy types become Python's."""
    if isinstance(value, dict):
        return {str(key): plain(item) for key, item in value.items()}
    if isinstance(value, (list, tuple)):
        return [plain(item) for item in value]
    if isinstance(value, np.ndarray):
        return [plain(item) for item in value.tolist()]
    if isinstance(value, (np.floating, float)):
        number = float(value)
        return number if np.isfinite(number) else None
    if isinstance(value, (np.bool_, bool)):
        return bool(value)
    if isinstance(value, np.integer):
        return int(value)
    return value
