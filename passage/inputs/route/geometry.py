"""Rhumb lines and great circles on the WGS84 ellipsoid.

Great-circle legs are geodesics, from PROJ. PROJ gives no rhumb lines, so they are
computed here from two integrals along the meridian, which stay exact when the course
is due east or west and the usual quotient would be zero over zero.

Notes
-----
With rho the meridian radius of curvature and p = nu cos(phi) the radius of the
parallel, the meridian arc is ``dM = integral rho dphi`` and the difference of
isometric latitude ``dpsi = integral rho / p dphi``. A rhumb line over dlon has

    tan(course) = dlon / dpsi,   length = hypot(dlon, dpsi) * dM / dpsi

Both integrals are dphi times a mean taken by Gauss and Legendre's rule, so dphi
drops out of dM / dpsi and nothing cancels on a parallel.

References
----------
J. P. Snyder, Map Projections: a Working Manual, USGS Professional Paper 1395, 1987,
eqs. (3-1) isometric latitude and (4-18), (4-19) radii of curvature (equation numbers
from memory).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
from pyproj import Geod

Array = npt.NDArray[np.float64]

#: The ellipsoid of satellite positions and of this program.
WGS84 = Geod(ellps="WGS84")
_A_M = WGS84.a
_E2 = WGS84.es
_NODES, _WEIGHTS = np.polynomial.legendre.leggauss(20)
_NODES = 0.5 * (_NODES + 1.0)
_WEIGHTS = 0.5 * _WEIGHTS


@dataclass(frozen=True)
class LinePoints:
    """Points along lines: positions and the true course there, all in degrees."""

    lat_deg: Array
    lon_deg: Array
    course_deg: Array


def rhumb_inverse(
    lat1_deg: npt.ArrayLike,
    lon1_deg: npt.ArrayLike,
    lat2_deg: npt.ArrayLike,
    lon2_deg: npt.ArrayLike,
) -> tuple[Array, Array]:
    """Length and course of the shorter rhumb line between two points.

    Parameters
    ----------
    lat1_deg, lon1_deg, lat2_deg, lon2_deg : array_like
        Ends, broadcast together. Longitudes in any range. [deg]

    Returns
    -------
    distance_m, course_deg : ndarray
        Length [m]; true course in [0, 360) [deg]. Points half a turn apart in
        longitude are joined westwards. Equal points give 0 m and course 0.
    """
    phi1, phi2, dlam = _radians(lat1_deg, lon1_deg, lat2_deg, lon2_deg)
    dphi = phi2 - phi1
    arc, stretch = _meridian_means(phi1, phi2)
    dpsi = _psi_difference(phi1, phi2, stretch)
    narrow = _is_narrow(phi1, phi2)
    with np.errstate(invalid="ignore", divide="ignore"):
        wide_ratio = dphi * arc / np.where(narrow, 1.0, dpsi)
        by_ratio = np.hypot(dlam, dpsi) * np.where(narrow, arc / stretch, wide_ratio)
    # With an end on the pole dpsi is infinite and only the meridian arc remains.
    distance = np.where(np.isinf(dpsi), np.abs(dphi) * arc, by_ratio)
    return distance, _turned(np.degrees(np.arctan2(dlam, dpsi)))


def rhumb_points(
    lat1_deg: npt.ArrayLike,
    lon1_deg: npt.ArrayLike,
    lat2_deg: npt.ArrayLike,
    lon2_deg: npt.ArrayLike,
    fraction: npt.ArrayLike,
) -> LinePoints:
    """Points at fractions of the length of rhumb lines, with the constant course.

    Parameters
    ----------
    lat1_deg, lon1_deg, lat2_deg, lon2_deg, fraction : array_like
        Ends [deg] and fraction of the length [0 to 1], broadcast together.

    Returns
    -------
    LinePoints
        Longitudes in [-180, 180).
    """
    phi1, phi2, dlam = _radians(lat1_deg, lon1_deg, lat2_deg, lon2_deg)
    part = np.asarray(fraction, dtype=np.float64)
    phi1, phi2, dlam, part = np.broadcast_arrays(phi1, phi2, dlam, part)
    arc, stretch = _meridian_means(phi1, phi2)
    target = part * (phi2 - phi1) * arc
    phi = phi1 + part * (phi2 - phi1)
    # The arc is nearly proportional to latitude; Newton reaches rounding in three.
    for _ in range(4):
        mean, _unused = _meridian_means(phi1, phi)
        phi = phi - ((phi - phi1) * mean - target) / _rho(phi)
    arc_part, stretch_part = _meridian_means(phi1, phi)
    with np.errstate(invalid="ignore", divide="ignore", over="ignore"):
        # Longitude gained goes with dpsi. On short latitude differences the common
        # factor dphi is divided out; on long ones the closed form is exact.
        short = part * (stretch_part / arc_part) / (stretch / arc)
        whole = _psi_difference(phi1, phi2, stretch)
        done = _psi_difference(phi1, phi, stretch_part)
        narrow = _is_narrow(phi1, phi2)
        ratio = np.where(narrow, short, done / np.where(narrow, 1.0, whole))
        ratio = np.where(np.isinf(whole), np.where(part < 1.0, 0.0, 1.0), ratio)
        ratio = np.where(part == 0.0, 0.0, np.where(part == 1.0, 1.0, ratio))
    lon = _wrap(np.asarray(lon1_deg, dtype=np.float64) + np.degrees(dlam * ratio))
    _, course = rhumb_inverse(lat1_deg, lon1_deg, lat2_deg, lon2_deg)
    return LinePoints(
        lat_deg=np.degrees(phi),
        lon_deg=lon,
        course_deg=np.broadcast_to(course, phi.shape).copy(),
    )


def great_circle_inverse(
    lat1_deg: npt.ArrayLike,
    lon1_deg: npt.ArrayLike,
    lat2_deg: npt.ArrayLike,
    lon2_deg: npt.ArrayLike,
) -> tuple[Array, Array]:
    """Length [m] and course at the start [deg, 0 to 360) of the shortest line.

    Parameters are as for `rhumb_inverse`.
    """
    lat1, lon1, lat2, lon2 = _broadcast(lat1_deg, lon1_deg, lat2_deg, lon2_deg)
    azimuth, _, distance = WGS84.inv(lon1, lat1, lon2, lat2)
    return np.asarray(distance), _turned(np.asarray(azimuth))


def great_circle_points(
    lat1_deg: npt.ArrayLike,
    lon1_deg: npt.ArrayLike,
    lat2_deg: npt.ArrayLike,
    lon2_deg: npt.ArrayLike,
    fraction: npt.ArrayLike,
) -> LinePoints:
    """Points at fractions of the length of geodesics, with the course there.

    Parameters are as for `rhumb_points`.
    """
    lat1, lon1, lat2, lon2, part = _broadcast(lat1_deg, lon1_deg, lat2_deg, lon2_deg, fraction)
    azimuth, _, distance = WGS84.inv(lon1, lat1, lon2, lat2)
    lon, lat, back = WGS84.fwd(lon1, lat1, azimuth, distance * part)
    return LinePoints(
        lat_deg=np.asarray(lat),
        lon_deg=_wrap(np.asarray(lon)),
        course_deg=_turned(np.asarray(back) + 180.0),
    )


def _wrap(lon_deg: Array) -> Array:
    return _turned(lon_deg + 180.0) - 180.0


def _turned(angle_deg: Array) -> Array:
    """Angle in [0, 360); the remainder of a tiny negative number rounds to 360."""
    angle = angle_deg % 360.0
    return np.where(angle >= 360.0, 0.0, angle)


def _broadcast(*values: npt.ArrayLike) -> tuple[Array, ...]:
    # PROJ wants writable arrays of one shape; broadcasting alone gives views.
    arrays = np.broadcast_arrays(*(np.asarray(v, dtype=np.float64) for v in values))
    return tuple(np.array(a) for a in arrays)


def _radians(
    lat1_deg: npt.ArrayLike,
    lon1_deg: npt.ArrayLike,
    lat2_deg: npt.ArrayLike,
    lon2_deg: npt.ArrayLike,
) -> tuple[Array, Array, Array]:
    lat1, lon1, lat2, lon2 = _broadcast(lat1_deg, lon1_deg, lat2_deg, lon2_deg)
    return np.radians(lat1), np.radians(lat2), np.radians(_wrap(lon2 - lon1))


def _rho(phi: Array) -> Array:
    """Radius of curvature in the meridian [m]."""
    return _A_M * (1.0 - _E2) / (1.0 - _E2 * np.sin(phi) ** 2) ** 1.5


def _meridian_means(phi1: Array, phi2: Array) -> tuple[Array, Array]:
    """Means of dM/dphi [m] and of dpsi/dphi [-] between two latitudes."""
    phi = phi1[..., None] + (phi2 - phi1)[..., None] * _NODES
    rho = _rho(phi)
    parallel = _A_M * np.cos(phi) / np.sqrt(1.0 - _E2 * np.sin(phi) ** 2)
    with np.errstate(divide="ignore"):
        return rho @ _WEIGHTS, (rho / parallel) @ _WEIGHTS


def _is_narrow(phi1: Array, phi2: Array) -> npt.NDArray[np.bool_]:
    """Whether the quadrature of dpsi is exact to rounding.

    Its singularity is at the pole; with the ends no farther apart than the nearer
    one is from the pole, 20 nodes leave an error far below 1e-16.
    """
    colatitude = 0.5 * np.pi - np.maximum(np.abs(phi1), np.abs(phi2))
    return np.asarray(np.abs(phi2 - phi1) <= colatitude)


def _isometric(phi: Array) -> Array:
    e = np.sqrt(_E2)
    with np.errstate(divide="ignore"):
        psi = np.arcsinh(np.tan(phi)) - e * np.arctanh(e * np.sin(phi))
    at_pole = np.abs(phi) >= 0.5 * np.pi
    return np.where(at_pole, np.copysign(np.inf, phi), psi)


def _psi_difference(phi1: Array, phi2: Array, stretch: Array) -> Array:
    """Difference of isometric latitude, by the form that loses no digits."""
    with np.errstate(invalid="ignore"):
        wide = _isometric(phi2) - _isometric(phi1)
    return np.where(_is_narrow(phi1, phi2), (phi2 - phi1) * stretch, wide)
