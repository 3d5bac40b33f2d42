"""Constants and unit conversions; the only place with conversion factors.

The physics uses SI units and radians throughout. Degrees, knots, nautical miles and litres
appear only in files, options and reports. All converters accept scalars and arrays and
return what numpy arithmetic returns.
"""

from __future__ import annotations

import math
from datetime import UTC, datetime

#: Standard gravity [m/s2].
G_M_S2 = 9.80665
#: Sea water density [kg/m3].
RHO_SEA_KG_M3 = 1025.0
#: Air density at 15 degC [kg/m3], the ISO 15016 reference value.
RHO_AIR_KG_M3 = 1.225
#: Kinematic viscosity of sea water near 15 degC [m2/s].
NU_SEA_M2_S = 1.19e-6
#: International nautical mile [m].
NM_M = 1852.0
#: International foot [m]; used only to recognise lengths given in feet.
FOOT_M = 0.3048
#: Seconds in an hour.
HOUR_S = 3600.0
#: One knot [m/s].
KNOT_M_S = NM_M / HOUR_S
#: Marine gas oil density when the vessel file gives none [t/m3]; common practice.
FUEL_DENSITY_T_M3 = 0.845
#: CO2 from marine gas oil, tonne per tonne of fuel (IMO MEPC.308(73), from memory).
CO2_T_PER_T_MGO = 3.206

DEG_RAD = math.pi / 180.0


def utc_text(time_s: float) -> str:
    """Seconds since 1970 as 2026-03-14T06:00Z, rounded to the minute."""
    minute = round(float(time_s) / 60.0) * 60
    return datetime.fromtimestamp(minute, UTC).strftime("%Y-%m-%dT%H:%MZ")


def knots_to_m_s(speed_kn):  # type: ignore[no-untyped-def]
    """Metres per second from knots."""
    return speed_kn * KNOT_M_S


def m_s_to_knots(speed_m_s):  # type: ignore[no-untyped-def]
    """Knots from metres per second."""
    return speed_m_s / KNOT_M_S


def nm_to_m(distance_nm):  # type: ignore[no-untyped-def]
    """Metres from nautical miles."""
    return distance_nm * NM_M


def m_to_nm(distance_m):  # type: ignore[no-untyped-def]
    """Nautical miles from metres."""
    return distance_m / NM_M


def deg_to_rad(angle_deg):  # type: ignore[no-untyped-def]
    """Radians from degrees."""
    return angle_deg * DEG_RAD


def rad_to_deg(angle_rad):  # type: ignore[no-untyped-def]
    """Degrees from radians."""
    return angle_rad / DEG_RAD


def tonnes_to_kg(mass_t):  # type: ignore[no-untyped-def]
    """Kilograms from tonnes."""
    return mass_t * 1000.0


def kg_to_litres(mass_kg, density_t_m3):  # type: ignore[no-untyped-def]
    """Litres from kilograms of a liquid of the given density (t/m3 = kg/l)."""
    return mass_kg / density_t_m3


def litres_to_tonnes(volume_l, density_t_m3):  # type: ignore[no-untyped-def]
    """Tonnes from litres of a liquid of the given density (t/m3 = kg/l)."""
    return volume_l * density_t_m3 / 1000.0


def wrap_360(angle_deg):  # type: ignore[no-untyped-def]
    """Angle in [0, 360) degrees."""
    return angle_deg % 360.0


def wrap_180(angle_deg):  # type: ignore[no-untyped-def]
    """Angle in [-180, 180) degrees."""
    return (angle_deg + 180.0) % 360.0 - 180.0
