"""The vessel file converted for the physics: SI, radians, arrays over fin pairs."""

from __future__ import annotations

from copy import copy
from dataclasses import dataclass, replace
from functools import cached_property
from typing import TYPE_CHECKING, Any

import numpy as np
import numpy.typing as npt

from passage import cache
from passage.inputs.vessel import Vessel
from passage.physics.fins.drag import FinPairDrag, Rudder
from passage.physics.fins.force import Fins, fins_under_way, lift_slope
from passage.physics.fuel.propulsion import Engine, SpeedFuelCurve
from passage.physics.motions.places import (
    ClosedForm,
    MotionKernel,
    station_patch_m,
)
from passage.physics.motions.slamming import SLAM_STATION_RATIO
from passage.physics.motions.vertical_motion import HullForm
from passage.physics.resistance.waves import ResistanceHull, wave_resistance_kernel
from passage.physics.roll.excitation import RollExcitation, encounter_nodes
from passage.physics.roll.response import HullRoll
from passage.physics.waves.store import TableStore
from passage.physics.waves.table import SpeedTables
from passage.planning.voyage.strips import strip_motions
from passage.units import (
    G_M_S2,
    deg_to_rad,
    knots_to_m_s,
    m_s_to_knots,
    tonnes_to_kg,
)

if TYPE_CHECKING:
    from passage.planning.voyage.comfort import Before

Array = npt.NDArray[np.float64]


#: Idling fuel over that of the highest speed-fuel point, where it is not given: 2 to 4 % of
#: full load is usual for diesels (common practice).
IDLE_SHARE = 0.03


@dataclass(frozen=True)
class _JoinedKernel:
    """Motions and added resistance in one table, so that each sea needs one look-up."""

    motions: MotionKernel
    resistance: Any
    channels: int

    def __call__(self, omega_rad_s: Array, mu_rad: Array, speed_m_s: float) -> Array:
        """Channels of the motions, then of the resistance variants."""
        return np.concatenate(
            [
                self.motions(omega_rad_s, mu_rad, speed_m_s),
                self.resistance(omega_rad_s, mu_rad, speed_m_s),
            ]
        )


def bow_stations(length_m: float) -> tuple[float, float]:
    """Stations of slamming and of deck wetness, forward of midship; waterline length [m]. [m]"""
    return SLAM_STATION_RATIO * length_m, 0.5 * length_m


@dataclass(frozen=True)
class _KeptTables:
    """Tables of one kernel in the user's cache folder."""

    kind: str
    content: str

    def _key(self, *at: float) -> str:
        return cache.item_key(self.kind, (self.content, at))

    def load(self, speed_m_s: float, gamma: float, width_rad: float) -> Any:
        """Table of an earlier run, or None."""
        found = cache.load(self._key(speed_m_s, gamma, width_rad))
        return None if found is None else found.get("table")

    def save(self, speed_m_s: float, gamma: float, width_rad: float, table: Any) -> None:
        """Save a table for the next run."""
        cache.save(self._key(speed_m_s, gamma, width_rad), {"table": table})


def kept_tables(kind: str, kernel: Any) -> TableStore | None:
    """Store for the tables of a kernel; None for a kernel that cannot be cached."""
    try:
        return _KeptTables(f"{kind}-table", cache.content(kernel))
    except TypeError:
        return None


class Yacht:
    """One vessel for the physics. Tables are computed when they are first needed.

    With ``keep_tables`` they are also saved in the user's cache folder for the next run.
    """

    def __init__(
        self,
        vessel: Vessel,
        *,
        motion_kernel: MotionKernel | None = None,
        keep_tables: bool = True,
    ) -> None:
        self.vessel = vessel
        hull = vessel.particulars
        self.displacement_kg = float(tonnes_to_kg(hull.displacement_t))
        self.righting_n_m_per_rad = self.displacement_kg * G_M_S2 * hull.gm_m
        self.natural_period_s = vessel.roll.natural_period_s
        self.natural_frequency_rad_s = 2.0 * np.pi / self.natural_period_s
        self.places = vessel.places
        #: Motion before the first point of a track, which counts for sickness; None in port.
        self.before: Before | None = None
        #: Strip theory of the hull; None where no sections fit her dimensions.
        self.strips = strip_motions(vessel, keep=keep_tables)
        slope = vessel.roll.wave_slope_coefficient
        self.excitation = RollExcitation(
            encounter_nodes(self.natural_frequency_rad_s),
            hull.beam_waterline_m,
            slope if isinstance(slope, float) else None,
            None if slope == "formula" else self.strips,
        )
        #: Change of inertia and damping of roll with frequency; None without sections.
        nodes = self.excitation.nodes_rad_s
        self.radiation = None if self.strips is None else self.strips.roll_radiation(nodes)
        self._radiation_righting = self.righting_n_m_per_rad
        #: Whether heave and pitch are computed here and not from the user's file.
        self.own_motions = motion_kernel is None
        self.motions = replace(
            motion_kernel or self._own_motions(),
            lateral=self.strips,
            natural_frequency_rad_s=self.natural_frequency_rad_s,
        )
        self.resistance_hull = ResistanceHull(
            length_m=hull.length_waterline_m,
            beam_m=hull.beam_waterline_m,
            draught_aft_m=hull.draught_m,
            draught_fore_m=hull.bow_draught_m,
            block_coefficient=hull.block_coefficient,
            pitch_radius=hull.longitudinal_gyradius_m / hull.length_waterline_m,
            entrance_m=hull.entrance_length_m,
            run_m=hull.run_length_m,
        )
        resistance = wave_resistance_kernel(self.resistance_hull, self.strips)
        #: Channel of the first variant of added resistance, after the motions.
        self.resistance_channel = len(self.motions.channel_names)
        joined = _JoinedKernel(
            self.motions, resistance, self.resistance_channel + resistance.channels
        )
        store_of = kept_tables if keep_tables else (lambda kind, kernel: None)
        self.roll_tables = SpeedTables(self.excitation, store=store_of("roll", self.excitation))
        self.sea_tables = SpeedTables(joined, store=store_of("sea", joined))
        formula = wave_resistance_kernel(self.resistance_hull)
        self.resistance_tables = SpeedTables(formula, store=store_of("resistance", formula))

    def _own_motions(self) -> MotionKernel:
        """Heave and pitch by strip theory, or by the closed forms where no sections fit."""
        hull = self.vessel.particulars
        places = tuple(place.x_m for place in self.vessel.places)
        stations = bow_stations(hull.length_waterline_m)
        form = HullForm(
            length_m=hull.length_waterline_m,
            beam_m=hull.beam_waterline_m,
            draught_m=hull.draught_m,
            block_coefficient=hull.block_coefficient,
        )
        return MotionKernel(
            provider=self.strips or ClosedForm(form),
            places_x_m=places,
            stations_x_m=stations,
            patch_m=station_patch_m(form),
            rough_phase=self.strips is None,
        )

    def guessed_otherwise(self, vessel: Vessel) -> Yacht:
        """The same hull and tables with other fins, damping, stiffness or engines.

        For the ends of a band; whatever depends on the form of the hull is unchanged.
        """
        other = copy(self)
        for name in ("engine", "fin_drag", "_slopes", "fin_x_m", "offset_most_rad"):
            other.__dict__.pop(name, None)
        other.vessel = vessel
        other.displacement_kg = float(tonnes_to_kg(vessel.particulars.displacement_t))
        other.righting_n_m_per_rad = other.displacement_kg * G_M_S2 * vessel.particulars.gm_m
        other.natural_period_s = vessel.roll.natural_period_s
        other.natural_frequency_rad_s = 2.0 * np.pi / other.natural_period_s
        return other

    def pin(self, *speeds_m_s: float) -> None:
        """Give speeds tables of their own instead of interpolation. [m/s]"""
        self.roll_tables.pin(*speeds_m_s)
        self.sea_tables.pin(*speeds_m_s)

    @cached_property
    def curve(self) -> SpeedFuelCurve:
        """Still-water fuel against speed."""
        propulsion = self.vessel.propulsion
        return SpeedFuelCurve(
            knots_to_m_s(np.array(propulsion.speed_kn)), np.array(propulsion.fuel_l_per_h)
        )

    def allow_slow(self) -> float:
        """Extend the curve below its points to idling; returns the idling rate. [l/h]"""
        propulsion = self.vessel.propulsion
        idle = propulsion.idle_fuel_l_per_h
        if idle is None:
            idle = min(IDLE_SHARE * propulsion.fuel_l_per_h[-1], 0.4 * propulsion.fuel_l_per_h[0])
        self.__dict__["curve"] = replace(self.curve, idle_l_per_h=idle)
        return idle

    @cached_property
    def engine(self) -> Engine:
        """Engines and propellers."""
        propulsion = self.vessel.propulsion
        return Engine(
            propulsive_efficiency=propulsion.propulsive_efficiency,
            specific_fuel_g_per_kwh=propulsion.specific_fuel_g_per_kwh,
            fuel_density_t_m3=propulsion.fuel_density_t_m3,
            max_power_kw=propulsion.engine_power_kw,
            max_fuel_l_per_h=propulsion.max_fuel_l_per_h,
        )

    @property
    def displacement_ratio(self) -> float:
        """Displacement over that of the speed-fuel points. Dimensionless."""
        return self.vessel.particulars.displacement_t / self.vessel.propulsion.trial_displacement_t

    @cached_property
    def fin_drag(self) -> tuple[FinPairDrag, ...]:
        """Drag particulars of each pair."""
        return tuple(
            FinPairDrag(
                area_m2=fin.area_m2,
                aspect_ratio=fin.effective_aspect_ratio,
                lift_slope_per_rad=slope,
                count=fin.count,
                oswald_efficiency=fin.oswald_efficiency,
                profile_drag_coefficient=fin.profile_drag_coefficient,
                flow_fraction=fin.flow_fraction,
                stall_angle_rad=deg_to_rad(fin.stall_angle_deg),
            )
            for fin, slope in zip(self.vessel.fins, self._slopes, strict=True)
        )

    @cached_property
    def _slopes(self) -> tuple[float, ...]:
        return tuple(
            fin.lift_slope_per_rad
            if fin.lift_slope_per_rad is not None
            else float(lift_slope(fin.effective_aspect_ratio, deg_to_rad(fin.sweep_deg)))
            for fin in self.vessel.fins
        )

    def _per_pair(self, name: str) -> Array:
        return np.array([float(getattr(fin, name)) for fin in self.vessel.fins])

    @cached_property
    def rudder(self) -> Rudder:
        """Rudders of a usual size; their drag is small."""
        hull = self.vessel.particulars
        return Rudder.estimate(hull.length_waterline_m, hull.draught_m)

    @cached_property
    def fin_x_m(self) -> Array:
        """Position of each pair forward of midship; 0 where it is not given. [m]"""
        return np.array([fin.x_m or 0.0 for fin in self.vessel.fins])

    @cached_property
    def offset_most_rad(self) -> Array:
        """Largest offset of each pair: its share of the angle limit or of the stall angle,
        whichever is smaller. [rad]"""
        column = self._per_pair
        open_deg = np.minimum(column("max_angle_deg"), column("stall_angle_deg"))
        return np.asarray(deg_to_rad(column("offset_share") * open_deg))

    @property
    def has_fins(self) -> bool:
        """Whether any fins are fitted."""
        return bool(self.vessel.fins)

    @property
    def rest_moment_rad(self) -> Array:
        """At-rest moment of each pair over the righting moment per radian; 0 where none."""
        moments = [1000.0 * (fin.at_rest_moment_kn_m or 0.0) for fin in self.vessel.fins]
        return np.array(moments) / self.righting_n_m_per_rad

    @property
    def has_rest_mode(self) -> bool:
        """Whether any pair can work at rest."""
        return bool(np.any(self.rest_moment_rad > 0.0))

    def fins_at(self, speed_m_s: npt.ArrayLike, offset_rad: npt.ArrayLike = 0.0) -> Fins:
        """Fin pairs at speeds through the water ``P``; offset ``P + (pairs,)`` or scalar."""
        column = self._per_pair
        flow = column("flow_fraction")
        fins = fins_under_way(
            speed_m_s,
            self.righting_n_m_per_rad,
            # Lift goes with the square of the flow at the fin, the inflow angle with
            # its inverse.
            area_m2=column("area_m2") * flow**2,
            slope_per_rad=np.array(self._slopes),
            lever_m=column("lever_m"),
            angle_limit_rad=deg_to_rad(column("max_angle_deg")),
            rate_limit_rad_s=deg_to_rad(column("max_rate_deg_s")),
            stall_rad=deg_to_rad(column("stall_angle_deg")),
            efficiency=column("efficiency") * column("tandem_factor"),
            count=column("count"),
            lag_s=column("lag_s"),
            reference_speed_m_s=knots_to_m_s(column("reference_speed_kn")),
            angle_gain=column("angle_gain"),
            rate_gain_s=column("rate_gain_s"),
            acceleration_gain_s2=column("acceleration_gain_s2"),
            offset_rad=offset_rad,
            delay_s=column("delay_s"),
        )
        return replace(fins, inflow_time_s=np.asarray(fins.inflow_time_s) / flow)

    def hull_damping(self, speed_m_s: npt.ArrayLike) -> Array:
        """Linear damping ratio of the bare hull at speeds through the water [m/s]."""
        roll = self.vessel.roll
        knots = m_s_to_knots(np.abs(np.asarray(speed_m_s, dtype=float)))
        return np.asarray(roll.damping_ratio + roll.damping_ratio_per_kn * knots)

    def hull_roll(self, speed_m_s: npt.ArrayLike, static_heel_rad: npt.ArrayLike = 0.0) -> HullRoll:
        """Roll properties of the bare hull by the vessel file, at speeds through water [m/s]."""
        return HullRoll(
            natural_frequency_rad_s=self.natural_frequency_rad_s,
            damping_ratio=self.hull_damping(speed_m_s),
            quadratic_damping_per_rad=self.vessel.roll.quadratic_damping,
            static_heel_rad=static_heel_rad,
            radiation=self.radiation,
            speed_m_s=speed_m_s,
            righting_ratio=self.righting_n_m_per_rad / self._radiation_righting,
        )

    def radiation_at(self, speed_m_s: float) -> tuple[Array, Array] | None:
        """Stiffness [dimensionless] and damping [s] to add at one speed [m/s], over frequency."""
        if self.radiation is None:
            return None
        return self.radiation.beside(
            speed_m_s,
            self.natural_frequency_rad_s,
            float(self.hull_damping(speed_m_s)),
            self.righting_n_m_per_rad / self._radiation_righting,
        )
