"""The vessel as the rest of the program sees her: frozen dataclasses.

One class per section of the vessel file, and the one place where its keys are declared:
`schema` makes what the reader accepts from the same lines. Keys keep their names, which
end in their units; nothing is converted here. Values the file does not give are filled by
a named estimate, listed in `Vessel.estimated`; ``None`` is left only where a thing is
absent or where a formula of the physics takes over.

Limits are wide: they catch a slip of the decimal point or unit; `plausibility` warns of
likelier mistakes inside them.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Literal

from passage.inputs.vessel.keys import Estimate, estimated, filled, key, optional
from passage.inputs.vessel.prices import Money, Standing

WaveSlope = float | Literal["strip", "formula"]


@dataclass(frozen=True, kw_only=True)
class SectionRow:
    """One section of the hull at the loaded waterline; lines plan."""

    x_m: float = key("forward of midship", ge=-110, le=110)
    breadth_m: float = key("breadth on the waterline", ge=0, le=40)
    draught_m: float = key("depth of its lowest point", ge=0, le=15)
    area_m2: float = key("immersed area", ge=0, le=600)


@dataclass(frozen=True, kw_only=True)
class Particulars:
    """The hull as loaded for the passage; stability booklet and loading computer."""

    name: str = key("her name", min_length=1, max_length=80)
    length_waterline_m: float = key("length on the waterline", gt=5, le=200)
    beam_waterline_m: float = key("beam on the waterline", gt=1, le=40)
    draught_m: float = filled("mean moulded draught", gt=0.3, le=15)
    displacement_t: float = filled("displacement, tonnes", gt=1, le=10_000_000)
    gm_m: float = filled("metacentric height, corrected for free surface", gt=0, le=20)
    kg_m: float = estimated("centre of gravity above the keel", gt=0, le=30)
    block_coefficient: float = estimated(
        "volume over length x beam x draught", unit="", gt=0.1, lt=1
    )
    midship_coefficient: float = estimated(
        "midship section area over beam x draught", unit="", gt=0.3, le=1
    )
    waterplane_coefficient: float = estimated(
        "waterplane area over length x beam", unit="", gt=0.4, le=1
    )
    length_overall_m: float = estimated("length over all", gt=5, le=250)
    entrance_length_m: float = estimated(
        "from the fore end of the waterline to where the beam is 99 % of the largest", gt=0, le=200
    )
    run_length_m: float = estimated(
        "from the after end of the waterline to where the beam is 99 % of the largest", gt=0, le=200
    )
    longitudinal_gyradius_m: float = estimated("pitch radius of gyration", gt=0, le=100)
    minimum_gm_m: float | None = optional(
        "least fluid GM the approved stability booklet allows", ge=0, le=20
    )
    bow_draught_m: float = estimated("draught at the station judged for slamming", gt=0, le=15)
    freeboard_bow_m: float | None = optional("freeboard at the stem", gt=0, le=20)
    anchored_heading: Literal["wind", "waves"] = key(
        "what she lies to at anchor: bow to the wind or to the waves", default="wind"
    )
    sections: tuple[SectionRow, ...] = key(
        "lines plan: x_m, breadth_m, draught_m, area_m2 from the after end forward",
        default=(),
        max_length=200,
    )


@dataclass(frozen=True, kw_only=True)
class Roll:
    """How the hull rolls without fins; a roll-decay record or the estimate."""

    natural_period_s: float = estimated("measured natural roll period", gt=1, le=40)
    damping_ratio: float = estimated(
        "linear damping at rest as a share of critical", unit="", gt=0, lt=1
    )
    damping_ratio_per_kn: float = estimated(
        "growth of the linear damping ratio with each knot", unit="per kn", ge=0, le=0.1
    )
    quadratic_damping: float = estimated(
        "b in phi'' + 2 zeta w0 phi' + b abs(phi') phi' + w0^2 phi = 0", unit="per rad", ge=0, le=10
    )
    wave_slope_coefficient: WaveSlope = key(
        "share of the slope of long waves that the hull answers, falling off for "
        "short ones: 'strip', 'formula', or a number",
        default="strip",
    )
    axis_above_waterline_m: float = estimated("height of the roll axis", ge=-10, le=20)
    bilge_keel_length_m: float | None = optional("length of each bilge keel", ge=0, le=150)
    bilge_keel_breadth_m: float | None = optional("breadth of each bilge keel", ge=0, le=3)


@dataclass(frozen=True, kw_only=True)
class FinPair:
    """Fins at one place along the hull, port and starboard alike; maker's data sheet."""

    position: str = key("their name", default="amidships", min_length=1, max_length=40)
    count: int = key("fins in this entry, both sides together: 2 or 4", default=2)
    area_m2: float = key("area of each fin", ge=0, le=60)
    aspect_ratio: float = filled("geometric: outreach squared over area", unit="", gt=0.1, le=6)
    lever_m: float = filled("from the roll axis to the centre of pressure", gt=0, le=25)
    max_angle_deg: float = filled("mechanical limit either way", gt=0, le=60)
    max_rate_deg_s: float = filled("fastest the fin turns", gt=0, le=300)
    stall_angle_deg: float = estimated("incidence at which lift is lost", gt=2, le=80)
    lift_slope_per_rad: float | None = optional("lift slope", unit="per rad", gt=0.1, le=6.3)
    efficiency: float = estimated(
        "lift left after boundary layer and hull interference", unit="", gt=0, le=1.2
    )
    flow_fraction: float = estimated(
        "speed of the water at the fin over the ship's", unit="", gt=0.2, le=1.2
    )
    reference_speed_kn: float = filled("speed at which the gains below hold", gt=0, le=60)
    rate_gain_s: float = filled("fin degrees per degree a second of roll", ge=0, le=100)
    angle_gain: float = key("fin degrees per degree of roll", unit="", default=0.0, ge=-50, le=50)
    acceleration_gain_s2: float = key(
        "fin degrees per degree a second squared", default=0.0, ge=-50, le=50
    )
    at_rest_moment_kn_m: float | None = optional(
        "largest moment of this entry's fins together at rest", unit="kN m", ge=0, le=10_000
    )
    profile_drag_coefficient: float = estimated(
        "drag of a centred fin on its area", unit="", ge=0, le=0.2
    )
    oswald_efficiency: float = estimated("span efficiency", unit="", gt=0.2, le=1)
    x_m: float | None = optional("centre of the fin forward of midship", ge=-100, le=100)
    lag_s: float = estimated("time constant of the actuator", ge=0, le=10)
    delay_s: float = key(
        "delay of the control, sensor and filters, beside the lag", default=0.1, ge=0, le=2
    )
    sweep_deg: float = key("sweep of the quarter chord", default=0.0, ge=-60, le=60)
    taper_ratio: float = estimated("tip chord over root chord", unit="", gt=0, le=2)
    tandem_factor: float = key(
        "lift left to an aft pair in the wake of a forward one", unit="", default=1.0, gt=0, le=1.2
    )
    offset_share: float = key(
        "share of the range, up to the stall, that a steady offset may take",
        unit="",
        default=0.6,
        gt=0,
        le=1,
    )
    locked_astern: bool = key("fins lock mechanically when going astern", default=False)

    @property
    def effective_aspect_ratio(self) -> float:
        """Twice the geometric aspect ratio: the hull acts as a mirror at the root."""
        return 2.0 * self.aspect_ratio


@dataclass(frozen=True, kw_only=True)
class Propulsion:
    """Speed against fuel from sea trials or the log, all engines together."""

    speed_kn: tuple[float, ...] = key(
        "speeds through the water, rising", min_length=2, max_length=60
    )
    fuel_l_per_h: tuple[float, ...] = key(
        "fuel at those speeds, calm water", min_length=2, max_length=60
    )
    propulsive_efficiency: float = estimated("thrust power over brake power", unit="", gt=0.1, lt=1)
    specific_fuel_g_per_kwh: float = estimated(
        "main engines' specific consumption", unit="g/kWh", gt=120, le=500
    )
    max_fuel_l_per_h: float | None = optional("most the engines may burn", gt=0, le=100_000)
    idle_fuel_l_per_h: float | None = optional("engines turning, no way on", gt=0, le=10_000)
    brake_power_kw: tuple[float, ...] | None = optional(
        "brake power at those speeds, all engines", max_length=60
    )
    engine_power_kw: float | None = optional(
        "rated power of all engines together", gt=0, le=200_000
    )
    engines: int | None = optional("number of main engines", ge=1, le=8)
    fuel_density_t_m3: float = estimated("fuel density", unit="t/m3", gt=0.7, le=1.05)
    trial_displacement_t: float = estimated(
        "displacement at which speed and fuel were measured", gt=1, le=10_000_000
    )


@dataclass(frozen=True, kw_only=True)
class Hotel:
    """Generators and the power of the fins' hydraulics."""

    generator_l_per_h: float = key("hotel load of the generators", default=0.0, ge=0, le=2000)
    fins_kw_active: float = key("hydraulics, fins active", default=0.0, ge=0, le=1000)
    fins_kw_centred: float = key("hydraulics, fins centred", default=0.0, ge=0, le=1000)
    fins_kw_at_rest: float = estimated("hydraulics, fins active at rest", ge=0, le=1000)
    generator_specific_fuel_g_per_kwh: float = estimated(
        "generators' specific consumption", unit="g/kWh", gt=150, le=600
    )


@dataclass(frozen=True, kw_only=True)
class Windage:
    """What the wind acts on; profile drawing or the weather criterion's sheet."""

    frontal_area_m2: float = estimated("area seen from ahead", gt=0, le=3000)
    lateral_area_m2: float = estimated("area seen from abeam", gt=0, le=10_000)
    lateral_centroid_above_waterline_m: float = estimated(
        "height of the centre of the lateral area", gt=0, le=60
    )
    air_draught_m: float = estimated("height of the highest point", gt=0, le=100)
    lateral_centroid_forward_m: float | None = optional(
        "centre of the lateral area forward of midship", ge=-100, le=100
    )
    superstructure_area_m2: float | None = optional(
        "lateral area of everything on deck", ge=0, le=10_000
    )
    bridge_height_m: float | None = optional(
        "top of the wheelhouse above the waterline", gt=0, le=60
    )
    family: str = estimated(
        "wind coefficients: passenger, ferry, research, speed boat or fujiwara", max_length=60
    )


@dataclass(frozen=True, kw_only=True)
class Tank:
    """A tank; capacity plan and soundings."""

    name: str = key("its name", min_length=1, max_length=60)
    holds: Literal["fuel", "fresh water", "ballast"] = key("what is in it")
    capacity_m3: float = key("capacity", gt=0, le=20_000)
    content_m3: float = key("content at departure", ge=0, le=20_000)
    density_t_m3: float = estimated("density of the content", unit="t/m3", gt=0.6, le=1.1)
    y_m: float = key("centre of the content, + to starboard", ge=-30, le=30)
    x_m: float | None = optional("centre forward of midship", ge=-100, le=100)
    z_m: float | None = optional("centre above the waterline", ge=-20, le=30)
    length_m: float | None = optional("length of the free surface", gt=0, le=100)
    breadth_m: float | None = optional("breadth of the free surface", gt=0, le=40)
    minimum_m3: float = key("content the crew will not go below", default=0.0, ge=0, le=20_000)
    moves_with: tuple[str, ...] | None = optional(
        "tanks it may exchange with; not given: any that hold the same"
    )

    @property
    def mass_t(self) -> float:
        """Mass of the content."""
        return self.content_m3 * self.density_t_m3


@dataclass(frozen=True, kw_only=True)
class Transfer:
    """What moving liquid between tanks takes."""

    rate_m3_per_h: float = key("pump rate", unit="m3/h", gt=0, le=2000)
    pump_kw: float = key("pump power", ge=0, le=500)
    crew_minutes_per_transfer: float = key("crew time for each transfer", unit="min", ge=0, le=600)
    max_roll_significant_deg: float = key("no transfers above this roll", gt=0, le=40)
    smallest_m3: float = key(
        "least amount worth a transfer, unless nothing less keeps the limit",
        unit="m3",
        default=0.5,
        ge=0,
        le=1000,
    )
    trim_limit_m: float | None = optional("largest change of trim, either way", gt=0, le=20)


@dataclass(frozen=True, kw_only=True)
class Burn:
    """A tank the engines draw from."""

    tank: str = key("its name", min_length=1)
    share: float = key("share of all the fuel burnt", unit="", ge=0, le=1)


@dataclass(frozen=True, kw_only=True)
class LoadingEvent:
    """People, tenders or stores moved on the way; ``leg`` or ``miles_to_go`` says from where."""

    leg: int | None = optional("number of the leg it begins with, from 1", ge=1, le=10_000)
    miles_to_go: float | None = optional("or miles left to the end", unit="nm", gt=0, le=25_000)
    moment_t_m: float = key("heeling moment it adds, + to starboard", unit="t m", ge=-1e5, le=1e5)
    what: str = key("what is moved", min_length=1, max_length=120)


@dataclass(frozen=True, kw_only=True)
class Loading:
    """The list she leaves with and what will change it."""

    list_deg: float = key("list observed at departure, + to starboard", default=0.0, ge=-30, le=30)
    burn: tuple[Burn, ...] = key("tanks drawn from", default=())
    events: tuple[LoadingEvent, ...] = key("weights moved", default=())


@dataclass(frozen=True, kw_only=True)
class Place:
    """A place where comfort is judged."""

    name: str = key("its name", min_length=1, max_length=60)
    x_m: float = key("forward of midship", ge=-110, le=110)
    y_m: float = key("to starboard of the centreline", ge=-25, le=25)
    z_m: float = key("above the waterline", ge=-15, le=60)


@dataclass(frozen=True, kw_only=True)
class LimitSet:
    """What the owner accepts."""

    name: str = estimated("the owner's word for it", max_length=80)
    roll_significant_deg: float | None = optional("roll, significant single amplitude", gt=0, le=60)
    lateral_acceleration_rms_g: float | None = optional("lateral acceleration, rms", gt=0, le=2)
    vertical_acceleration_rms_g: float | None = optional("vertical acceleration, rms", gt=0, le=2)
    motion_sickness_percent: float | None = optional("people sick", unit="%", gt=0, le=100)
    steady_heel_deg: float | None = optional("steady heel either way", gt=0, le=40)
    interruptions_per_minute: float | None = optional(
        "motion-induced interruptions", unit="per minute", gt=0, le=60
    )
    slamming_probability: float | None = optional("share of waves that slam", unit="", gt=0, le=1)
    deck_wetness_probability: float | None = optional(
        "share of waves over the bow", unit="", gt=0, le=1
    )

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
    """``[limits]``, under way and at rest.

    ``window_h`` is the time that roll, accelerations and holding on are judged over [h].
    """

    underway: LimitSet
    at_rest: LimitSet
    window_h: float = 1.0

    @property
    def any_set(self) -> bool:
        """Whether the owner sets anything that a passage is judged by, under way or at rest."""
        return self.underway.any_set or self.at_rest.any_set


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
    standing: Standing | None = None
    #: The file as read, so that a plan can carry a copy of it.
    text: str = field(default="", compare=False, repr=False)

    @property
    def name(self) -> str:
        """Her name."""
        return self.particulars.name

    def estimate_of(self, key: str) -> Estimate | None:
        """The estimate behind a key, as "vessel.gm_m"; None where the file gives it."""
        return next((item for item in self.estimated if item.key == key), None)
