"""The one table of output names.

Each row gives an output of a leg: its name, unit, meaning and, where the CF standard name
table has one, its standard_name. The columns of the CSV and of the printed table, the keys
of the JSON, the NetCDF variables, the headings of the HTML page and the nomenclature page of
the docs all come from this table, so they agree.
"""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class Variable:
    """One output of a leg.

    ``unit`` is a UDUNITS string ("1" for dimensionless, "" for words and times).
    ``decimals`` is the number that the printed table and the page show; files have more.
    ``how`` is the rule from points to a value for the leg: "mean" (weighted by time), "sum",
    "direction" (of the weighted vector sum), "worst" (largest over the points that
    are known), "leg" (a property of the leg, not computed from points).
    """

    name: str
    unit: str
    meaning: str
    heading: str
    decimals: int = 1
    how: str = "mean"
    standard_name: str | None = None


def _v(name: str, unit: str, heading: str, meaning: str, **more: object) -> Variable:
    return Variable(name, unit, meaning, heading, **more)  # type: ignore[arg-type]


#: Keys of one leg, in the order of docs/plan.md.
# fmt: off
LEG_VARIABLES: tuple[Variable, ...] = (
    _v("leg", "", "leg", "number of the leg, from 1", decimals=0, how="leg"),
    _v("from", "", "from", "name of the waypoint the leg starts at", how="leg"),
    _v("to", "", "to", "name of the waypoint the leg ends at", how="leg"),
    _v("type", "", "type", "rhumb, great circle or stay (at anchor or drifting)", how="leg"),
    _v("distance_nm", "nautical_mile", "nm", "length of the leg over the ground", how="leg"),
    _v("course_true_deg", "degree", "course",
       "true course over the ground at the start of the leg", decimals=0, how="leg",
       standard_name="platform_course"),
    _v("etd_utc", "", "leaves", "time the leg starts, UTC", how="leg"),
    _v("eta_utc", "", "arrives", "time the leg ends, UTC", how="leg"),
    _v("hours", "hour", "hours", "duration of the leg", decimals=2, how="leg"),
    _v("speed_through_water_kn", "knot", "STW",
       "speed through the water", standard_name="platform_speed_wrt_sea_water"),
    _v("speed_over_ground_kn", "knot", "SOG",
       "speed over the ground", standard_name="platform_speed_wrt_ground"),
    _v("coverage", "", "coverage",
       "what the forecast gives on the leg: ok, or the commonest reason for a gap", how="leg"),
    _v("significant_height_m", "m", "Hs",
       "significant wave height of the whole sea",
       standard_name="sea_surface_wave_significant_height"),
    _v("peak_period_s", "s", "Tp",
       "peak period of the most energetic system",
       standard_name="sea_surface_wave_period_at_variance_spectral_density_maximum"),
    _v("wave_from_deg", "degree", "from",
       "direction the waves come from, true, weighted by energy", decimals=0, how="direction",
       standard_name="sea_surface_wave_from_direction"),
    _v("encounter_angle_deg", "degree", "angle",
       "encounter angle of the sea: 0 following, 90 beam, 180 head", decimals=0),
    _v("encounter_side", "", "side",
       "side the waves come from: port, starboard, ahead or astern", how="leg"),
    _v("encounter_period_s", "s", "Te",
       "period at which the yacht meets the waves, from the mean encounter frequency"),
    _v("natural_roll_period_s", "s", "Troll", "natural roll period of the yacht as loaded"),
    _v("roll_centred_rms_deg", "degree", "roll rms, centred",
       "roll, rms about the steady heel, fins centred", decimals=2),
    _v("roll_active_rms_deg", "degree", "roll rms, active",
       "roll, rms about the steady heel, fins active", decimals=2),
    _v("roll_centred_significant_deg", "degree", "roll, fins centred",
       "roll, significant single amplitude (2 x rms), fins centred"),
    _v("roll_active_significant_deg", "degree", "roll, fins active",
       "roll, significant single amplitude (2 x rms), fins active"),
    _v("roll_reduction_percent", "percent", "reduction",
       "share of the centred roll rms that the active fins take away", decimals=0),
    _v("fin_angle_rms_deg", "degree", "fin rms", "fin angle about its mean, rms, fins active"),
    _v("fin_at_limit_percent", "percent", "at limit",
       "share of the time a fin is at its angle limit or its rate limit, fins active"),
    _v("fin_travel_deg_per_h", "degree hour-1", "fin travel",
       "total angle a fin swings through in an hour", decimals=0),
    _v("steady_heel_deg", "degree", "heel",
       "steady heel left after the fins, + to starboard", decimals=2,
       standard_name="platform_roll_starboard_down"),
    _v("fin_offset_deg", "degree", "offset",
       "mean fin angle that holds the list, + lifts to heel her to starboard", decimals=2),
    _v("fin_drag_active_n", "N", "drag, active",
       "extra drag of the fins from working against roll", decimals=0),
    _v("fin_drag_offset_n", "N", "drag, offset",
       "extra drag of the fins from holding the list", decimals=0),
    _v("fuel_l", "L", "fuel", "fuel of the leg, all users", decimals=0, how="sum"),
    _v("fuel_fins_active_l", "L", "fins active",
       "part of the fuel: fins working against roll, with their hydraulics", how="sum"),
    _v("fuel_fins_offset_l", "L", "fins offset",
       "part of the fuel: fins holding the list", how="sum"),
    _v("fuel_waves_l", "L", "waves", "part of the fuel: added resistance in waves", how="sum"),
    _v("fuel_wind_l", "L", "wind",
       "part of the fuel: wind beyond still air (negative where the wind helps)", how="sum"),
    _v("motion_sickness_percent", "percent", "sick",
       "people expected to be sick, worst place (ISO 2631-1 dose of any six hours so far)",
       how="leg"),
    _v("lateral_acceleration_rms_g", "1", "lateral g",
       "lateral acceleration at the worst place, rms, with roll's share of gravity; in g",
       decimals=3),
    _v("vertical_acceleration_rms_g", "1", "vertical g",
       "vertical acceleration at the worst place, rms; in g", decimals=3),
    _v("steady_heel_worst_deg", "degree", "heel, worst",
       "steady heel left at the worst point of the leg, + to starboard", decimals=2, how="leg"),
    _v("heel_over_limit_h", "hour", "h over heel limit",
       "hours of the leg with the steady heel above the owner's limit", decimals=1, how="sum"),
    _v("window_roll_significant_deg", "degree", "worst roll",
       "roll, significant single amplitude, fins as chosen, in the worst window of the owner's "
       "length (an hour) about any moment of the leg", how="leg"),
    _v("window_lateral_acceleration_rms_g", "1", "lateral g, worst window",
       "lateral acceleration at the worst place, rms of the worst such window; in g",
       decimals=3, how="leg"),
    _v("window_vertical_acceleration_rms_g", "1", "vertical g, worst window",
       "vertical acceleration at the worst place, rms of the worst such window; in g",
       decimals=3, how="leg"),
    _v("window_interruptions_per_minute", "minute-1", "holding on, worst window",
       "times a minute a standing person must hold on, high end, in the worst such window",
       decimals=2, how="leg"),
    _v("fluid_gm_m", "m", "GM",
       "fluid metacentric height with the tanks as drawn and moved", decimals=2),
    _v("trim_change_m", "m", "trim",
       "change of trim since departure by burn and transfers, + by the bow", decimals=2),
    _v("fuel_still_water_l", "L", "still water",
       "part of the fuel: still water at this speed", how="sum"),
    _v("fuel_list_l", "L", "list",
       "part of the fuel: the hull's own drag from steady heel", decimals=2, how="sum"),
    _v("fuel_hotel_l", "L", "hotel", "part of the fuel: generators for the house", how="sum"),
    _v("fuel_low_l", "L", "fuel, low", "low end of the fuel band", decimals=0, how="sum"),
    _v("fuel_high_l", "L", "fuel, high", "high end of the fuel band", decimals=0, how="sum"),
    _v("roll_active_low_rms_deg", "degree", "roll, low",
       "low end of the band of roll rms with the fins as planned, active or centred", decimals=2),
    _v("roll_active_high_rms_deg", "degree", "roll, high",
       "high end of the band of roll rms with the fins as planned, active or centred", decimals=2),
    _v("roll_active_worst_rms_deg", "degree", "worst roll",
       "largest roll rms of any point of the leg, fins active", decimals=2, how="worst"),
    _v("heel_without_correction_deg", "degree", "heel, uncorrected",
       "steady heel without any correction, + to starboard", decimals=2),
    _v("heel_shortfall_deg", "degree", "shortfall",
       "part of the asked correction that the fins cannot hold", decimals=2),
    _v("wind_speed_kn", "knot", "wind", "true wind speed at 10 m", standard_name="wind_speed"),
    _v("wind_from_deg", "degree", "wind from",
       "true wind direction, coming from", decimals=0, how="direction",
       standard_name="wind_from_direction"),
    _v("current_speed_kn", "knot", "current",
       "speed of the current", standard_name="sea_water_speed"),
    _v("current_to_deg", "degree", "sets",
       "direction the current sets towards", decimals=0, how="direction",
       standard_name="sea_water_velocity_to_direction"),
    _v("course_to_steer_deg", "degree", "steer",
       "true heading through the water that makes the course good (leeway ignored)", decimals=0,
       how="direction", standard_name="platform_azimuth_angle"),
    _v("slamming_per_hour", "hour-1", "slams", "expected bottom slams an hour at the bow"),
    _v("motion_sickness_index_percent", "percent", "sick, index",
       "O'Hanlon and McCauley index at the worst place: sick after two hours of this motion",
       decimals=0),
    _v("interruptions_low_per_minute", "minute-1", "holding on, low",
       "times a minute a standing person must hold on, worst place, low end", decimals=2),
    _v("interruptions_high_per_minute", "minute-1", "holding on, high",
       "times a minute a standing person must hold on, worst place, high end", decimals=2),
    _v("slamming_percent", "percent", "slams, share",
       "share of waves met with a bottom slam (Ochi 1964)", decimals=2),
    _v("deck_wetness_percent", "percent", "wet deck",
       "share of waves met that come over the bow rail"),
    _v("fin_angle_limited_percent", "percent", "at angle limit",
       "share of the time the angle asked of the fins is beyond their angle limit"),
    _v("fin_rate_limited_percent", "percent", "at rate limit",
       "share of the time the fins turn as fast as they can"),
    _v("fin_beyond_stall_percent", "percent", "stalled",
       "share of the time the flow at the fins is beyond their stall angle"),
    _v("odds_within_limits_percent", "percent", "odds",
       "chance that the leg keeps all of the owner's limits", decimals=0, how="leg"),
    _v("known_percent", "percent", "known",
       "share of the leg's time whose numbers the forecast gives", decimals=0, how="leg"),
    _v("fin_use", "", "fins",
       "fin use open and chosen: active, centred, at rest, or none", how="leg"),
)
# fmt: on

BY_NAME: dict[str, Variable] = {variable.name: variable for variable in LEG_VARIABLES}

#: Coverage of the forecast at a point; the code in the arrays is the index here.
COVERAGE: tuple[str, ...] = (
    "ok",
    "before_forecast",
    "after_forecast",
    "outside_area",
    "masked",
    "nearest_sea_cell",
    "time_gap",
    "sheltered",
)
#: The words of coverage as a screen shows them.
COVERAGE_WORDS: dict[str, str] = {
    "ok": "covered",
    "before_forecast": "before the forecast",
    "after_forecast": "beyond the forecast",
    "outside_area": "outside its area",
    "masked": "masked",
    "nearest_sea_cell": "nearest sea cell",
    "time_gap": "in a gap of hours",
    "sheltered": "sheltered",
}
#: Coverage where the user asked for a sea that is not the forecast's own at that place.
FILLED: tuple[str, ...] = ("nearest_sea_cell", "sheltered")
#: Coverage that leaves no gap.
COVERED: tuple[str, ...] = ("ok", *FILLED)
