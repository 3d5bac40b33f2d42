"""Tables of one vessel for a season: rows of responses at the speeds of its passages."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
import numpy.typing as npt

from passage.inputs.forecast.waves import WavePlan, usual_spread
from passage.physics.fins.force import Fins
from passage.physics.motions.lateral import LATERAL_AMOUNTS, LATERAL_VARIANCES
from passage.physics.tables.levels import roll_levels
from passage.physics.tables.response_rows import ResponseRows, response_rows
from passage.physics.tables.sea_rows import StoredSystems
from passage.physics.tables.season_roll import TabulatedRoll
from passage.physics.waves.peakedness import GAMMA_SWELL, RULE_LEVELS
from passage.physics.waves.table import SpeedTables as SpectralTables
from passage.planning.voyage.rolling import NO_FINS
from passage.planning.voyage.yacht import Yacht

Shape = tuple[float, float]
Arrays = dict[str, npt.NDArray[Any]]


@dataclass(frozen=True, eq=False)
class SpeedTables:
    """Rows of responses and roll from them at one speed through the water. [m/s]"""

    speed_m_s: float
    responses: ResponseRows
    roll: TabulatedRoll


def integrate(yacht: Yacht, speed_m_s: float, shapes: Sequence[Shape]) -> Arrays:
    """The slow part of the tables of one speed, for :func:`restore` in other processes."""
    arrays: Arrays = {}
    for kind, tables in _kinds(yacht):
        table = tables.table(speed_m_s)
        table.add_shapes(shapes)
        arrays |= {f"{kind}_{name}": values for name, values in table.stored().items()}
    return arrays


def restore(yacht: Yacht, speed_m_s: float, arrays: Arrays) -> None:
    """Use the tables that another process integrated for the same yacht and speed."""
    for kind, tables in _kinds(yacht):
        stored = {name: arrays[f"{kind}_{name}"] for name in ("slot", "data")}
        tables.table(speed_m_s).restore(stored)


def _kinds(yacht: Yacht) -> list[tuple[str, SpectralTables]]:
    return [("roll", yacht.roll_tables), ("sea", yacht.sea_tables)]


def _none(speed_m_s: float) -> Arrays | None:
    return None


class SeasonTables:
    """Tables by speed, made on first use and kept.

    ``find`` returns what :func:`integrate` made for a speed elsewhere, or None.

    Columns of sea channels in the rows, in order: vertical and weighted acceleration of
    each place, relative motion and velocity at the bow, sway, the sea from ahead,
    ``LATERAL_VARIANCES``; then, as amounts, added resistance in waves and ``LATERAL_AMOUNTS``.
    """

    def __init__(
        self, yacht: Yacht, shapes: Sequence[Shape], find: Callable[[float], Arrays | None] = _none
    ) -> None:
        self.yacht = yacht
        self.shapes = tuple(shapes)
        self._find = find
        motions = yacht.motions
        self.variance_channels = [
            *motions.channels("vertical_acceleration"),
            *motions.channels("weighted_acceleration"),
            motions.channels("relative_motion")[0],
            motions.channels("relative_velocity")[0],
            motions.channel("sway_acceleration"),
            motions.channel("bow_m0"),
        ]
        self.amount_channels = [len(motions.channel_names)]
        if motions.lateral is not None:
            self.variance_channels += [motions.channel(name) for name in LATERAL_VARIANCES]
            self.amount_channels += [motions.channel(name) for name in LATERAL_AMOUNTS]
        self._made: dict[float, SpeedTables] = {}

    def at(self, speed_m_s: float) -> SpeedTables:
        """Tables at a speed; 0 for a stay."""
        key = round(float(speed_m_s), 9)
        made = self._made.get(key)
        if made is None:
            made = self._made[key] = self._make(key)
        return made

    def _make(self, speed: float) -> SpeedTables:
        yacht = self.yacht
        found = self._find(speed)
        if found is not None:
            restore(yacht, speed, found)
        roll = yacht.vessel.roll
        levels = roll_levels(
            yacht.natural_frequency_rad_s,
            float(yacht.hull_damping(speed)),
            roll.quadratic_damping,
            self._fins(speed),
            yacht.radiation_at(speed),
        )
        rows = response_rows(
            levels,
            yacht.roll_tables.table(speed),
            yacht.excitation.nodes_rad_s,
            yacht.sea_tables.table(speed),
            self.shapes,
            self.variance_channels,
            self.amount_channels,
        )
        return SpeedTables(speed, rows, TabulatedRoll(levels))

    def _fins(self, speed: float) -> Fins:
        yacht = self.yacht
        if not yacht.has_fins:
            return NO_FINS
        fins = yacht.fins_at(np.array(speed))
        if speed == 0.0:
            return replace(fins.centred(), rest_moment_rad=yacht.rest_moment_rad)
        return fins


def fixed_shapes(
    plan: WavePlan | None,
) -> tuple[tuple[Shape, ...], StoredSystems] | None:
    """Spectral shapes that the wave systems can have, and their places in the tables.

    A swell has one shape; any other system lies between the levels of the steepness rule.
    None for full spectra, and for files that give the spread: those would need a table for
    every spread.
    """
    if plan is None or plan.has_spread:
        return None
    shapes: list[Shape] = []
    slots, steps = [], []
    for system in plan.systems:
        spread = float(usual_spread(system.name))
        levels = [GAMMA_SWELL] if system.is_swell else [float(g) for g in RULE_LEVELS]
        wanted = [(gamma, spread) for gamma in levels]
        if wanted[0] not in shapes:
            shapes += wanted
        slots.append(shapes.index(wanted[0]))
        steps.append(len(levels) - 1)
    width = plan.fields_per_system
    return tuple(shapes), StoredSystems(
        first=2 + width * np.arange(len(slots)),
        slot=np.array(slots, dtype=np.int64),
        steps=np.array(steps, dtype=np.int64),
    )
