"""The vessel as the rest of the program sees her: frozen dataclasses.

One class per section of the vessel file. Keys keep their names and the units that
stand at the end of the names; nothing is converted here. Values the file does not
give are filled by a named estimate, listed in `Vessel.estimated`; ``None`` is left
only where a thing is absent or where a formula of the physics takes over.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Literal

WaveSlope = float | Literal["strip", "formula"]


@dataclass(frozen=True, kw_only=True)
class Estimate:
    """A value the file did not give, and the method that gave it.

    ``low`` and ``high`` are the ends of its band where it widens roll or fuel.
    """

    key: str
    value: float | str
    unit: str
    method: str
    low: float | None = None
    high: float | None = None


@dataclass(frozen=True, kw_only=True)
class SectionRow:
    """One ``[[vessel.sections]]`` of the lines plan."""

    x_m: float
    breadth_m: float
    draught_m: float
    area_m2: float


@dataclass(frozen=True, kw_only=True)
class Particulars:
    """``[vessel]``: the hull as loaded for the passage."""

    name: str
    length_waterline_m: float
    beam_waterline_m: float
    draught_m: float
    displacement_t: float
    gm_m: float
    kg_m: float
    block_coefficient: float
    midship_coefficient: float
    waterplane_coefficient: float
    length_overall_m: float
    entrance_length_m: float
    run_length_m: float
    longitudinal_gyradius_m: float
    bow_draught_m: float
    freeboard_bow_m: float | None
    minimum_gm_m: float | None
    anchored_heading: Literal["wind", "waves"]
    sections: tuple[SectionRow, ...] = ()


@dataclass(frozen=True, kw_only=True)
class Roll:
    """``[roll]``: how the bare hull rolls, fins absent."""

    natural_period_s: float
    damping_ratio: float
    damping_ratio_per_kn: float
    quadratic_damping: float
    wave_slope_coefficient: WaveSlope
    axis_above_waterline_m: float
    bilge_keel_length_m: float | None
    bilge_keel_breadth_m: float | None


@dataclass(frozen=True, kw_only=True)
class FinPair:
    """One ``[[fins]]``: fins at one place along the hull, port and starboard alike."""

    position: str
    count: int
    area_m2: float
    aspect_ratio: float
    lever_m: float
    max_angle_deg: float
    max_rate_deg_s: float
    stall_angle_deg: float
    lift_slope_per_rad: float | None
    efficiency: float
    flow_fraction: float
    reference_speed_kn: float
    rate_gain_s: float
    angle_gain: float
    acceleration_gain_s2: float
    at_rest_moment_kn_m: float | None
    profile_drag_coefficient: float
    oswald_efficiency: float
    x_m: float | None
    lag_s: float
    sweep_deg: float
    taper_ratio: float
    tandem_factor: float
    locked_astern: bool
    offset_share: float = 0.6
    delay_s: float = 0.1

    @property
    def effective_aspect_ratio(self) -> float:
        """Twice the geometric aspect ratio: the hull acts as a mirror at the root."""
        return 2.0 * self.aspect_ratio


@dataclass(frozen=True, kw_only=True)
class Propulsion:
    """``[propulsion]``: speed against fuel, and what a newton of extra drag costs."""

    speed_kn: tuple[float, ...]
    fuel_l_per_h: tuple[float, ...]
    propulsive_efficiency: float
    specific_fuel_g_per_kwh: float
    max_fuel_l_per_h: float | None
    brake_power_kw: tuple[float, ...] | None
    engine_power_kw: float | None
    engines: int | None
    fuel_density_t_m3: float
    trial_displacement_t: float
    idle_fuel_l_per_h: float | None = None


@dataclass(frozen=True, kw_only=True)
class Hotel:
    """``[hotel]``: generator fuel and the power of the fins' hydraulics."""

    generator_l_per_h: float
    fins_kw_active: float
    fins_kw_centred: float
    fins_kw_at_rest: float
    generator_specific_fuel_g_per_kwh: float


@dataclass(frozen=True, kw_only=True)
class Windage:
    """``[windage]``: what the wind finds above the water."""

    frontal_area_m2: float
    lateral_area_m2: float
    lateral_centroid_above_waterline_m: float
    air_draught_m: float
    lateral_centroid_forward_m: float | None
    superstructure_area_m2: float | None
    bridge_height_m: float | None
    family: str


@dataclass(frozen=True, kw_only=True)
class Tank:
    """One ``[[tanks]]``."""

    name: str
    holds: Literal["fuel", "fresh water", "ballast"]
    capacity_m3: float
    content_m3: float
    density_t_m3: float
    y_m: float
    x_m: float | None
    z_m: float | None
    length_m: float | None
    breadth_m: float | None
    minimum_m3: float
    moves_with: tuple[str, ...] | None

    @property
    def mass_t(self) -> float:
        """Mass of the content."""
        return self.content_m3 * self.density_t_m3


@dataclass(frozen=True, kw_only=True)
class Transfer:
    """``[transfer]``: what moving liquid takes."""

    rate_m3_per_h: float
    pump_kw: float
    crew_minutes_per_transfer: float
    max_roll_significant_deg: float
    smallest_m3: float = 0.5
    trim_limit_m: float | None = None


@dataclass(frozen=True, kw_only=True)
class Burn:
    """A tank the engines draw from, and its share of all the fuel burnt."""

    tank: str
    share: float


@dataclass(frozen=True, kw_only=True)
class LoadingEvent:
    """People, tenders or stores moved at the start of a leg; moment + to starboard."""

    leg: int
    moment_t_m: float
    what: str


@dataclass(frozen=True, kw_only=True)
class Loading:
    """``[loading]``: the list she leaves with and what will change it."""

    list_deg: float
    burn: tuple[Burn, ...]
    events: tuple[LoadingEvent, ...]


@dataclass(frozen=True, kw_only=True)
class Place:
    """One ``[[places]]``: x forward of midship, y to starboard, z above the waterline."""

    name: str
    x_m: float
    y_m: float
    z_m: float


@dataclass(frozen=True, kw_only=True)
class LimitSet:
    """What the owner accepts; ``None`` is no limit."""

    name: str
    roll_significant_deg: float | None
    lateral_acceleration_rms_g: float | None
    vertical_acceleration_rms_g: float | None
    motion_sickness_percent: float | None
    steady_heel_deg: float | None
    interruptions_per_minute: float | None
    slamming_probability: float | None
    deck_wetness_probability: float | None

    @property
    def any_set(self) -> bool:
        """Whether the owner sets anything that a passage is judged by."""
        return any(
            one is not None
            for one in (
                self.roll_significant_deg,
                self.lateral_acceleration_rms_g,
                self.vertical_acceleration_rms_g,
                self.motion_sickness_percent,
                self.steady_heel_deg,
                self.interruptions_per_minute,
            )
        )


@dataclass(frozen=True, kw_only=True)
class Limits:
    """``[limits]``, under way and at rest."""

    underway: LimitSet
    at_rest: LimitSet

    @property
    def any_set(self) -> bool:
        """Whether the owner sets anything that a passage is judged by, under way or at rest."""
        return self.underway.any_set or self.at_rest.any_set


@dataclass(frozen=True, kw_only=True)
class Money:
    """``[money]``."""

    fuel_price_per_l: float
    currency: str
    crew_cost_per_hour: float


@dataclass(frozen=True, kw_only=True)
class Vessel:
    """A checked vessel file."""

    particulars: Particulars
    roll: Roll
    fins: tuple[FinPair, ...]
    propulsion: Propulsion
    hotel: Hotel
    windage: Windage | None
    tanks: tuple[Tank, ...]
    transfer: Transfer | None
    loading: Loading
    places: tuple[Place, ...]
    limits: Limits
    money: Money | None
    forecast_names: dict[str, str]
    estimated: tuple[Estimate, ...]
    warnings: tuple[str, ...] = field(default=(), compare=False)
    path: str = field(default="", compare=False)
    sha256: str = field(default="", compare=False)
    #: The file as read, for whoever must be able to read her again.
    text: str = field(default="", compare=False, repr=False)

    @property
    def name(self) -> str:
        """Her name."""
        return self.particulars.name

    def estimate_of(self, key: str) -> Estimate | None:
        """The estimate behind a key, as "vessel.gm_m"; None where the file gives it."""
        return next((item for item in self.estimated if item.key == key), None)
