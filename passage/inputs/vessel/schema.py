"""What a vessel file may hold: keys, kinds, limits and one line about each.

The pydantic models are only the door: `reader` turns what passes into the frozen
dataclasses of `model`. Limits are wide on purpose (they catch a slip of the decimal
point or unit); likelier mistakes inside them are warned about in `checks`.
"""

from __future__ import annotations

from typing import Annotated, Any, Literal

from pydantic import BaseModel, BeforeValidator, ConfigDict, Field

from passage.errors import one_line

REQUIRED = ...
#: Words of a stranger's file: on one line, with nothing that a terminal or a page obeys.
Name = Annotated[str, BeforeValidator(lambda v: one_line(v) if isinstance(v, str) else v)]


def _num(about: str, *, unit: str | None = None, default: Any = REQUIRED, **limits: float) -> Any:
    extra = {"unit": unit} if unit is not None else None
    return Field(default, description=about, json_schema_extra=extra, allow_inf_nan=False, **limits)  # type: ignore[call-overload]


def _opt(about: str, *, unit: str | None = None, **limits: float) -> Any:
    return _num(about, unit=unit, default=None, **limits)


def _fill(about: str, *, unit: str | None = None, **limits: float) -> Any:
    """A number that `complete` fills in where it is missing: None until then."""
    return _num(about, unit=unit, default=None, **limits)


def _made(factory: Any, about: str) -> Any:
    return Field(default_factory=factory, description=about)


class _Section(BaseModel):
    model_config = ConfigDict(strict=True, extra="forbid", frozen=True, allow_inf_nan=False)


class SectionRow(_Section):
    """One section of the hull at the loaded waterline; lines plan."""

    x_m: float = _num("forward of midship", ge=-110, le=110)
    breadth_m: float = _num("breadth on the waterline", ge=0, le=40)
    draught_m: float = _num("depth of its lowest point", ge=0, le=15)
    area_m2: float = _num("immersed area", ge=0, le=600)


class VesselSection(_Section):
    """The hull as loaded for the passage; stability booklet and loading computer."""

    name: Name = Field(min_length=1, max_length=80, description="her name")
    length_waterline_m: float = _num("length on the waterline", gt=5, le=200)
    beam_waterline_m: float = _num("beam on the waterline", gt=1, le=40)
    draught_m: float = _fill("mean moulded draught", gt=0.3, le=15)
    displacement_t: float = _fill("displacement, tonnes", gt=1, le=10_000_000)
    gm_m: float = _fill("metacentric height, corrected for free surface", gt=0, le=20)
    kg_m: float | None = _opt("centre of gravity above the keel", gt=0, le=30)
    block_coefficient: float | None = _opt(
        "volume over length x beam x draught", unit="", gt=0.1, lt=1
    )
    midship_coefficient: float | None = _opt(
        "midship section area over beam x draught", unit="", gt=0.3, le=1
    )
    waterplane_coefficient: float | None = _opt(
        "waterplane area over length x beam", unit="", gt=0.4, le=1
    )
    length_overall_m: float | None = _opt("length over all", gt=5, le=250)
    entrance_length_m: float | None = _opt(
        "from the fore end of the waterline to where the beam is 99 % of the largest",
        gt=0,
        le=200,
    )
    run_length_m: float | None = _opt(
        "from the after end of the waterline to where the beam is 99 % of the largest",
        gt=0,
        le=200,
    )
    longitudinal_gyradius_m: float | None = _opt("pitch radius of gyration", gt=0, le=100)
    minimum_gm_m: float | None = _opt(
        "least fluid GM the approved stability booklet allows", ge=0, le=20
    )
    bow_draught_m: float | None = _opt("draught at the station judged for slamming", gt=0, le=15)
    freeboard_bow_m: float | None = _opt("freeboard at the stem", gt=0, le=20)
    anchored_heading: Literal["wind", "waves"] = Field(
        "wind", description="what she lies to at anchor: bow to the wind or to the waves"
    )
    sections: list[SectionRow] = Field(
        default_factory=list,
        max_length=200,
        description="lines plan: x_m, breadth_m, draught_m, area_m2 from the after end forward",
    )


class RollSection(_Section):
    """How the hull rolls without fins; a roll-decay record or the estimate."""

    natural_period_s: float | None = _opt("measured natural roll period", gt=1, le=40)
    damping_ratio: float | None = _opt(
        "linear damping at rest as a share of critical", unit="", gt=0, lt=1
    )
    damping_ratio_per_kn: float | None = _opt(
        "growth of the linear damping ratio with each knot", unit="per kn", ge=0, le=0.1
    )
    quadratic_damping: float | None = _opt(
        "b in phi'' + 2 zeta w0 phi' + b abs(phi') phi' + w0^2 phi = 0", unit="per rad", ge=0, le=10
    )
    wave_slope_coefficient: float | Literal["strip", "formula"] = Field(
        "strip",
        description="share of the slope of long waves that the hull answers, falling off for "
        "short ones: 'strip', 'formula', or a number",
    )
    axis_above_waterline_m: float | None = _opt("height of the roll axis", ge=-10, le=20)
    bilge_keel_length_m: float | None = _opt("length of each bilge keel", ge=0, le=150)
    bilge_keel_breadth_m: float | None = _opt("breadth of each bilge keel", ge=0, le=3)


class FinsSection(_Section):
    """Fins at one place along the hull, port and starboard alike; maker's data sheet."""

    position: Name = Field("amidships", min_length=1, max_length=40, description="their name")
    count: int = Field(2, description="fins in this entry, both sides together: 2 or 4")
    area_m2: float = _num("area of each fin", ge=0, le=60)
    aspect_ratio: float = _fill("geometric: outreach squared over area", unit="", gt=0.1, le=6)
    lever_m: float = _fill("from the roll axis to the centre of pressure", gt=0, le=25)
    max_angle_deg: float = _fill("mechanical limit either way", gt=0, le=60)
    max_rate_deg_s: float = _fill("fastest the fin turns", gt=0, le=300)
    stall_angle_deg: float | None = _opt("incidence at which lift is lost", gt=2, le=80)
    lift_slope_per_rad: float | None = _opt("lift slope", unit="per rad", gt=0.1, le=6.3)
    efficiency: float | None = _opt(
        "lift left after boundary layer and hull interference", unit="", gt=0, le=1.2
    )
    flow_fraction: float | None = _opt(
        "speed of the water at the fin over the ship's", unit="", gt=0.2, le=1.2
    )
    reference_speed_kn: float = _fill("speed at which the gains below hold", gt=0, le=60)
    rate_gain_s: float = _fill("fin degrees per degree a second of roll", ge=0, le=100)
    angle_gain: float = _num("fin degrees per degree of roll", unit="", default=0.0, ge=-50, le=50)
    acceleration_gain_s2: float = _num(
        "fin degrees per degree a second squared", default=0.0, ge=-50, le=50
    )
    at_rest_moment_kn_m: float | None = _opt(
        "largest moment of this entry's fins together at rest", unit="kN m", ge=0, le=10_000
    )
    profile_drag_coefficient: float | None = _opt(
        "drag of a centred fin on its area", unit="", ge=0, le=0.2
    )
    oswald_efficiency: float | None = _opt("span efficiency", unit="", gt=0.2, le=1)
    x_m: float | None = _opt("centre of the fin forward of midship", ge=-100, le=100)
    lag_s: float | None = _opt("time constant of the actuator", ge=0, le=10)
    delay_s: float = _num(
        "delay of the control, sensor and filters, beside the lag", default=0.1, ge=0, le=2
    )
    sweep_deg: float = _num("sweep of the quarter chord", default=0.0, ge=-60, le=60)
    taper_ratio: float | None = _opt("tip chord over root chord", unit="", gt=0, le=2)
    tandem_factor: float = _num(
        "lift left to an aft pair in the wake of a forward one", unit="", default=1.0, gt=0, le=1.2
    )
    offset_share: float = _num(
        "share of the range, up to the stall, that a steady offset may take",
        unit="",
        default=0.6,
        gt=0,
        le=1,
    )
    locked_astern: bool = Field(False, description="fins lock mechanically when going astern")


class PropulsionSection(_Section):
    """Speed against fuel from sea trials or the log, all engines together."""

    speed_kn: list[float] = Field(
        min_length=2, max_length=60, description="speeds through the water, rising"
    )
    fuel_l_per_h: list[float] = Field(
        min_length=2, max_length=60, description="fuel at those speeds, calm water"
    )
    propulsive_efficiency: float | None = _opt(
        "thrust power over brake power", unit="", gt=0.1, lt=1
    )
    specific_fuel_g_per_kwh: float | None = _opt(
        "main engines' specific consumption", unit="g/kWh", gt=120, le=500
    )
    max_fuel_l_per_h: float | None = _opt("most the engines may burn", gt=0, le=100_000)
    idle_fuel_l_per_h: float | None = _opt("engines turning, no way on", gt=0, le=10_000)
    brake_power_kw: list[float] | None = Field(
        None, max_length=60, description="brake power at those speeds, all engines"
    )
    engine_power_kw: float | None = _opt("rated power of all engines together", gt=0, le=200_000)
    engines: int | None = Field(None, ge=1, le=8, description="number of main engines")
    fuel_density_t_m3: float | None = _opt("fuel density", unit="t/m3", gt=0.7, le=1.05)
    trial_displacement_t: float | None = _opt(
        "displacement at which speed and fuel were measured", gt=1, le=10_000_000
    )


class HotelSection(_Section):
    """Generators and the power of the fins' hydraulics."""

    generator_l_per_h: float = _num("hotel load of the generators", default=0.0, ge=0, le=2000)
    fins_kw_active: float = _num("hydraulics, fins active", default=0.0, ge=0, le=1000)
    fins_kw_centred: float = _num("hydraulics, fins centred", default=0.0, ge=0, le=1000)
    fins_kw_at_rest: float | None = _opt("hydraulics, fins active at rest", ge=0, le=1000)
    generator_specific_fuel_g_per_kwh: float | None = _opt(
        "generators' specific consumption", unit="g/kWh", gt=150, le=600
    )


class WindageSection(_Section):
    """What the wind finds; profile drawing or the weather criterion's sheet."""

    frontal_area_m2: float = _num("area seen from ahead", gt=0, le=3000)
    lateral_area_m2: float = _num("area seen from abeam", gt=0, le=10_000)
    lateral_centroid_above_waterline_m: float = _num(
        "height of the centre of the lateral area", gt=0, le=60
    )
    air_draught_m: float | None = _opt("height of the highest point", gt=0, le=100)
    lateral_centroid_forward_m: float | None = _opt(
        "centre of the lateral area forward of midship", ge=-100, le=100
    )
    superstructure_area_m2: float | None = _opt(
        "lateral area of what stands on deck", ge=0, le=10_000
    )
    bridge_height_m: float | None = _opt("top of the wheelhouse above the waterline", gt=0, le=60)
    family: Name | None = Field(
        None,
        max_length=60,
        description="wind coefficients: passenger, ferry, research, speed boat or fujiwara",
    )


class TankSection(_Section):
    """A tank; capacity plan and soundings."""

    name: Name = Field(min_length=1, max_length=60, description="its name")
    holds: Literal["fuel", "fresh water", "ballast"] = Field(description="what is in it")
    capacity_m3: float = _num("capacity", gt=0, le=20_000)
    content_m3: float = _num("content at departure", ge=0, le=20_000)
    density_t_m3: float | None = _opt("density of the content", unit="t/m3", gt=0.6, le=1.1)
    y_m: float = _num("centre of the content, + to starboard", ge=-30, le=30)
    x_m: float | None = _opt("centre forward of midship", ge=-100, le=100)
    z_m: float | None = _opt("centre above the waterline", ge=-20, le=30)
    length_m: float | None = _opt("length of the free surface", gt=0, le=100)
    breadth_m: float | None = _opt("breadth of the free surface", gt=0, le=40)
    minimum_m3: float = _num("content the crew will not go below", default=0.0, ge=0, le=20_000)
    moves_with: list[Name] | None = Field(
        None, description="tanks it may exchange with; not given: any that hold the same"
    )


class TransferSection(_Section):
    """What moving liquid between tanks takes."""

    rate_m3_per_h: float = _num("pump rate", unit="m3/h", gt=0, le=2000)
    pump_kw: float = _num("pump power", ge=0, le=500)
    crew_minutes_per_transfer: float = _num("crew time for each transfer", unit="min", ge=0, le=600)
    max_roll_significant_deg: float = _num("no transfers above this roll", gt=0, le=40)
    smallest_m3: float = _num(
        "least amount worth a transfer, unless nothing less keeps the limit",
        unit="m3",
        default=0.5,
        ge=0,
        le=1000,
    )
    trim_limit_m: float | None = _opt("largest change of trim, either way", gt=0, le=20)


class BurnSection(_Section):
    """A tank the engines draw from."""

    tank: Name = Field(min_length=1, description="its name")
    share: float = _num("share of all the fuel burnt", unit="", ge=0, le=1)


class EventSection(_Section):
    """People, tenders or stores moved at the start of a leg."""

    leg: int = Field(ge=1, le=10_000, description="number of the leg, from 1")
    moment_t_m: float = _num("heeling moment it adds, + to starboard", unit="t m", ge=-1e5, le=1e5)
    what: Name = Field(min_length=1, max_length=120, description="what is moved")


class LoadingSection(_Section):
    """The list she leaves with and what will change it."""

    list_deg: float = _num("list observed at departure, + to starboard", default=0.0, ge=-30, le=30)
    burn: list[BurnSection] = _made(list, "tanks drawn from")
    events: list[EventSection] = _made(list, "weights moved")


class PlaceSection(_Section):
    """A place where comfort is judged."""

    name: Name = Field(min_length=1, max_length=60, description="its name")
    x_m: float = _num("forward of midship", ge=-110, le=110)
    y_m: float = _num("to starboard of the centreline", ge=-25, le=25)
    z_m: float = _num("above the waterline", ge=-15, le=60)


class LimitKeys(_Section):
    """What the owner accepts."""

    name: Name | None = Field(None, max_length=80, description="the owner's word for it")
    roll_significant_deg: float | None = _opt("roll, significant single amplitude", gt=0, le=60)
    lateral_acceleration_rms_g: float | None = _opt("lateral acceleration, rms", gt=0, le=2)
    vertical_acceleration_rms_g: float | None = _opt("vertical acceleration, rms", gt=0, le=2)
    motion_sickness_percent: float | None = _opt("people sick", unit="%", gt=0, le=100)
    steady_heel_deg: float | None = _opt("steady heel either way", gt=0, le=40)
    interruptions_per_minute: float | None = _opt(
        "motion-induced interruptions", unit="per minute", gt=0, le=60
    )
    slamming_probability: float | None = _opt("share of waves that slam", unit="", gt=0, le=1)
    deck_wetness_probability: float | None = _opt(
        "share of waves over the bow", unit="", gt=0, le=1
    )


class LimitsSection(LimitKeys):
    """Limits for both, and tables that override them under way and at rest."""

    underway: LimitKeys = _made(LimitKeys, "overrides under way")
    at_rest: LimitKeys = _made(LimitKeys, "overrides at rest")


class MoneySection(_Section):
    """Prices, to compare in money instead of litres."""

    fuel_price_per_l: float = _num("price of a litre of fuel", unit="per l", ge=0, le=1000)
    currency: Name = Field(min_length=1, max_length=12, description="name of the currency")
    crew_cost_per_hour: float = _num(
        "cost of an hour of crew time", unit="per hour", default=0.0, ge=0, le=100_000
    )


class VesselFile(_Section):
    """A vessel file."""

    vessel: VesselSection = Field(description="the hull")
    roll: RollSection = _made(RollSection, "how she rolls")
    fins: list[FinsSection] = Field(
        default_factory=list, max_length=4, description="stabiliser fins"
    )
    propulsion: PropulsionSection = Field(description="speed and fuel")
    hotel: HotelSection | None = Field(None, description="generators and hydraulics")
    windage: WindageSection | None = Field(None, description="area above the water")
    tanks: list[TankSection] = Field(default_factory=list, max_length=60, description="tanks")
    transfer: TransferSection | None = Field(None, description="moving liquid")
    loading: LoadingSection = _made(LoadingSection, "list and burn")
    places: list[PlaceSection] = Field(
        default_factory=list, max_length=60, description="places judged"
    )
    limits: LimitsSection = _made(LimitsSection, "what is accepted")
    money: MoneySection | None = Field(None, description="prices")
    forecast_names: dict[str, str] = Field(
        default_factory=dict,
        description="our name of a quantity = the variable's name in the forecast files",
    )


def vessel_json_schema() -> dict[str, Any]:
    """JSON Schema (draft 2020-12) of a vessel file, for editors that check TOML."""
    schema = VesselFile.model_json_schema()
    schema["$schema"] = "https://json-schema.org/draft/2020-12/schema"
    schema["title"] = "passage vessel file"
    return schema
