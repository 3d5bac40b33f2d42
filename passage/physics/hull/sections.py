r"""Cross sections of a hull, from her main dimensions or from the lines plan.

Every section is a super-ellipse, :math:`|2y/b|^p + |z/t|^p = 1`, which can have any
breadth, draught and area: p below 1 is hollow, 1 a plain vee, 2 an ellipse, above 4 a
box with round bilges. The sums over the strips give the volume and the waterplane area
exactly.

x is forward of midship, z up from the waterline.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import ArrayLike, NDArray

from passage.physics.curves import monotone_curve
from passage.physics.special import gammaln

FloatArray = NDArray[np.float64]

#: Number of strips along the hull.
STRIPS = 24
#: Least fullness (area over breadth x draught) of a section, forward and aft of the largest.
#: Towards the ends the keel rises rather than let a section be finer (assumption).
LEAST_FULLNESS = (0.50, 0.62)
#: Transom at the waterline over the beam, and its mean depth over that of the largest
#: section (assumption: a motor yacht's transom just dips at rest).
TRANSOM_BREADTH, TRANSOM_DEPTH = 0.5, 0.1
#: Least breadth and depth of a strip, over those of the largest.
THINNEST = 2e-3
#: Valid range of a section's fullness.
FULLNESS_RANGE = (0.05, 1.0)


@dataclass(frozen=True, eq=False)
class Sections:
    """Sections at the middle of equal strips, from aft to forward.

    Attributes
    ----------
    x_m, breadth_m, draught_m, area_m2 : ndarray, shape (n,)
        Position forward of midship [m], breadth on the waterline [m], depth of the lowest
        point [m], immersed area [m2].
    strip_m : float
        Length of a strip. [m]
    aft_x_m : float
        After end of the waterline. [m]
    aft : tuple of float
        Breadth [m], draught [m] and area [m2] at the after end; zeros where it is pointed.
    """

    x_m: FloatArray
    breadth_m: FloatArray
    draught_m: FloatArray
    area_m2: FloatArray
    strip_m: float
    aft_x_m: float
    aft: tuple[float, float, float] = (0.0, 0.0, 0.0)


@dataclass(frozen=True, kw_only=True)
class Form:
    """Main dimensions from which sections are generated; lengths in metres.

    ``entrance_m`` and ``run_m`` are the lengths from the ends of the waterline to full beam.
    ``buoyancy_x_m`` and ``flotation_x_m`` are centres forward of midship; with None they
    follow from entrance and run.
    """

    length_m: float
    beam_m: float
    draught_m: float
    block_coefficient: float
    midship_coefficient: float
    waterplane_coefficient: float
    entrance_m: float
    run_m: float
    buoyancy_x_m: float | None = None
    flotation_x_m: float | None = None


def fullness(power: ArrayLike) -> FloatArray:
    """Area of a super-ellipse over that of its box, from its power p > 0. [dimensionless]

    Exact: G(1 + 1/p)^2 / G(1 + 2/p) with the gamma function G. Any shape; NaN in gives NaN out.
    """
    p = np.asarray(power, float)
    return np.asarray(np.exp(2.0 * gammaln(1.0 + 1.0 / p) - gammaln(1.0 + 2.0 / p)))


def power_of_fullness(share: ArrayLike) -> FloatArray:
    """Power p of a fullness, the inverse of :func:`fullness`. Both dimensionless.

    Any shape; NaN outside ``FULLNESS_RANGE``.
    """
    grid = np.geomspace(0.25, 60.0, 2000)
    wanted = np.asarray(share, float)
    power = np.exp(np.interp(wanted, fullness(grid), np.log(grid)))
    low, high = FULLNESS_RANGE
    return np.asarray(np.where((wanted >= low) & (wanted <= high), power, np.nan))


def sections_from_form(form: Form, strips: int = STRIPS) -> Sections:
    """Sections of a hull of which only the main dimensions are known.

    Parameters
    ----------
    form : Form
        Lengths in [m], coefficients dimensionless.
    strips : int
        Number of equal strips.

    Returns
    -------
    Sections
        Strips whose sums give the volume, the waterplane area and, where given, the centres
        of ``form`` (to rounding).

    Raises
    ------
    ValueError
        No hull has these dimensions; the message names the numbers that conflict.

    Notes
    -----
    The breadth is :math:`(1-s^2)^p` over entrance and run; area over breadth is
    :math:`(1-s^2)^q` from the middle of the full beam to the ends. s runs from 0 to 1 at the
    end, where each has a least value. The powers follow from the waterplane and prismatic
    coefficients (assumption, no source). A hull too fine for the usual least values gets
    lower ones. The draught is full wherever the section keeps ``LEAST_FULLNESS``; beyond, the
    keel rises.
    """
    length = form.length_m
    step = length / strips
    x = np.asarray((np.arange(strips) + 0.5) * step - 0.5 * length, dtype=float)
    ends = form.entrance_m + form.run_m
    # Scaled where entrance and run leave no full beam between them, or too much of it.
    room = max(min(ends, length), (1.1 - form.waterplane_coefficient) * length)
    fore, aft = form.entrance_m * room / ends, form.run_m * room / ends
    low, high = -0.5 * length + aft, 0.5 * length - fore
    middle, short = 0.5 * (low + high), 1e-9 * length

    def curve(
        lo: float, hi: float, powers: tuple[float, float], ends: tuple[float, float]
    ) -> FloatArray:
        # ``short`` avoids a division by zero at an end without length, which has no strip.
        ahead = np.clip((x - hi) / max(0.5 * length - hi, short), 0.0, 1.0)
        astern = np.clip((lo - x) / max(lo + 0.5 * length, short), 0.0, 1.0)
        bow = ends[0] + (1.0 - ends[0]) * (1.0 - ahead**2) ** powers[0]
        stern = ends[1] + (1.0 - ends[1]) * (1.0 - astern**2) ** powers[1]
        return np.asarray(np.where(x >= middle, bow, stern))

    prismatic = form.block_coefficient / form.midship_coefficient
    if prismatic >= form.waterplane_coefficient:
        raise ValueError(
            f"block coefficient {form.block_coefficient:.3f} over midship coefficient "
            f"{form.midship_coefficient:.3f} is not below waterplane coefficient "
            f"{form.waterplane_coefficient:.3f}: sections would be fuller than their box"
        )
    breadth, transom = _first_fit(
        [
            (lambda p, t=t: np.maximum(curve(low, high, p, (0.0, t)), THINNEST), t)  # type: ignore[misc]
            for t in (TRANSOM_BREADTH, 0.5 * TRANSOM_BREADTH, 0.0)
        ],
        form.waterplane_coefficient,
        form.flotation_x_m,
        x,
        "waterplane_coefficient",
    )
    # Area over breadth falls from the middle to both ends, so that no section is fuller than
    # the largest.
    area, ends_of_area = _first_fit(
        [
            (lambda q, e=e: breadth * np.maximum(curve(middle, middle, q, e), THINNEST), e)  # type: ignore[misc]
            for e in ((LEAST_FULLNESS[0], TRANSOM_DEPTH), (0.0, 0.0))
        ],
        prismatic,
        form.buoyancy_x_m,
        x,
        "block_coefficient over midship_coefficient",
    )
    full = form.midship_coefficient * area / breadth
    least = np.where(x >= middle, *LEAST_FULLNESS)
    least = np.minimum(least, form.midship_coefficient)
    share = np.maximum(full, least)
    draught = form.draught_m * np.minimum(full / least, 1.0)
    b = form.beam_m * breadth
    end_breadth = form.beam_m * transom
    end_full = form.midship_coefficient * ends_of_area[1]
    end_draught = form.draught_m * min(end_full / float(least[0]), 1.0)
    end_area = end_full * end_breadth * form.draught_m
    return Sections(
        x_m=x,
        breadth_m=b,
        draught_m=draught,
        area_m2=share * b * draught,
        strip_m=step,
        aft_x_m=-0.5 * length,
        aft=(end_breadth, end_draught, end_area),
    )


def _first_fit(
    curves: list[tuple[Callable[[tuple[float, float]], FloatArray], Any]],
    mean: float,
    centre: float | None,
    x: FloatArray,
    name: str,
) -> tuple[FloatArray, Any]:
    """First curve that can be fitted, with the value paired with it."""
    for curve, what in curves[:-1]:
        try:
            return _fitted(curve, mean, centre, x, name), what
        except ValueError:
            continue
    curve, what = curves[-1]
    return _fitted(curve, mean, centre, x, name), what


def _fitted(
    curve: Callable[[tuple[float, float]], FloatArray],
    mean: float,
    centre: float | None,
    x: FloatArray,
    name: str,
) -> FloatArray:
    """Fit a curve to a mean and, if given, a centre."""
    low, high = np.log(1e-4), np.log(200.0)

    def at(powers: tuple[float, float]) -> FloatArray:
        return curve(powers)

    def with_ratio(log_ratio: float) -> FloatArray:
        def off(log_power: float) -> float:
            p = np.exp(log_power)
            return float(np.mean(at((p * np.exp(log_ratio), p * np.exp(-log_ratio)))) - mean)

        if off(low) < 0.0 or off(high) > 0.0:
            raise ValueError(f"{name} {mean:.3f} cannot be met with this entrance and run")
        p = np.exp(_root(off, low, high))
        return at((p * np.exp(log_ratio), p * np.exp(-log_ratio)))

    if centre is None:
        return with_ratio(0.0)

    def miss(log_ratio: float) -> float:
        values = with_ratio(log_ratio)
        return float(np.sum(x * values) / np.sum(values) - centre)

    # A finer bow (greater power forward) moves the centre aft.
    if miss(-1.2) < 0.0 or miss(1.2) > 0.0:
        raise ValueError(f"a centre {centre:.2f} m forward of midship cannot be met ({name})")
    return with_ratio(_root(miss, -1.2, 1.2))


def _root(falling: Callable[[float], float], low: float, high: float) -> float:
    """Zero of a falling function, by bisection to machine precision."""
    for _ in range(200):
        middle = 0.5 * (low + high)
        if middle in (low, high):
            break
        if falling(middle) > 0.0:
            low = middle
        else:
            high = middle
    return 0.5 * (low + high)


def sections_from_lines(
    x_m: ArrayLike,
    breadth_m: ArrayLike,
    draught_m: ArrayLike,
    area_m2: ArrayLike,
    *,
    volume_m3: float | None = None,
    strips: int = STRIPS,
) -> Sections:
    """Sections from a lines plan, interpolated to equal strips.

    Parameters
    ----------
    x_m, breadth_m, draught_m, area_m2 : array_like, shape (n,)
        Positions forward of midship, ascending, at least five, from end to end of the
        waterline [m]; breadth and draught there [m]; immersed area [m2].
    volume_m3 : float, optional
        Displaced volume; areas and draughts are scaled by one factor to give it. [m3]

    Raises
    ------
    ValueError
        Positions not ascending or too few, or a fullness outside ``FULLNESS_RANGE``.
    """
    x, b, t, a = (np.asarray(v, float) for v in (x_m, breadth_m, draught_m, area_m2))
    if x.size < 5 or np.any(np.diff(x) <= 0.0):
        raise ValueError("at least five sections are needed, x from aft to forward")
    step = (x[-1] - x[0]) / strips
    mid = x[0] + (np.arange(strips) + 0.5) * step
    box = b * t
    with np.errstate(invalid="ignore", divide="ignore"):
        given = np.where(box > 0.0, a / box, np.nan)
    some = np.isfinite(given)
    low, high = FULLNESS_RANGE
    bad = some & ~((given >= low) & (given <= high))
    if np.any(bad) or np.any((a > 0.0) & ~some):
        worst = int(np.argmax(bad | ((a > 0.0) & ~some)))
        raise ValueError(
            f"the section at x = {x[worst]:g} m has {a[worst]:g} m2 in a box of "
            f"{box[worst]:.3g} m2; a section fills {low} to {high} of it"
        )
    breadth, area = (monotone_curve(x, v)(mid) for v in (b, a))
    # A pointed end has no fullness of its own and takes that of its neighbour. The draught
    # follows from area, breadth and fullness: with breadth and draught both interpolated to
    # zero, the box would be too small for the area.
    share = np.interp(mid, x[some], given[some])
    breadth, area = np.maximum(breadth, 1e-3 * b.max()), np.maximum(area, 1e-6 * a.max())
    draught = np.minimum(area / (breadth * share), 1.5 * t.max())
    share = np.clip(area / (breadth * draught), low, high)
    area = share * breadth * draught
    if volume_m3 is not None:
        factor = volume_m3 / (np.sum(area) * step)
        draught, area, t, a = draught * factor, area * factor, t * factor, a * factor
    return Sections(
        x_m=mid,
        breadth_m=breadth,
        draught_m=draught,
        area_m2=area,
        strip_m=float(step),
        aft_x_m=float(x[0]),
        aft=(float(b[0]), float(t[0]), float(a[0])),
    )


def contour_points(
    breadth_m: ArrayLike, draught_m: ArrayLike, area_m2: ArrayLike, panels: int = 18
) -> tuple[FloatArray, FloatArray]:
    """Starboard halves of sections as polygons of equal panels, from keel to waterline.

    Parameters
    ----------
    breadth_m, draught_m, area_m2 : array_like, shape (sections,)
        Dimensions of whole sections. [m], [m], [m2]

    Returns
    -------
    y_m, z_m : ndarray, shape (sections, panels + 1)
        Corners, to starboard and up from the waterline. [m] The polygon has the given area
        to 1 in 10,000, as its corners are on a slightly fuller curve.
    """
    b, t, a = (np.atleast_1d(np.asarray(v, float)) for v in (breadth_m, draught_m, area_m2))
    wanted = a / (b * t)
    share = wanted.copy()
    for _ in range(4):
        y, z = _super_ellipse(0.5 * b, t, np.minimum(share, 0.999), panels)
        found = -np.sum(0.5 * (z[:, 1:] + z[:, :-1]) * np.diff(y, axis=1), axis=1) * 2.0 / (b * t)
        share = share + wanted - found
    return y, z


def _super_ellipse(
    half: FloatArray, draught: FloatArray, share: FloatArray, panels: int
) -> tuple[FloatArray, FloatArray]:
    """Corner points equally spaced along the super-ellipse of a fullness."""
    grid = np.geomspace(0.25, 400.0, 3000)
    power = np.exp(np.interp(share, fullness(grid), np.log(grid)))[:, None]
    angle = np.linspace(0.0, 0.5 * np.pi, 721)[None, :]
    s, c = np.sin(angle), np.cos(angle)
    radius = np.exp(-np.logaddexp(power * np.log(s + 1e-300), power * np.log(c + 1e-300)) / power)
    y, z = half[:, None] * radius * s, -draught[:, None] * radius * c
    y[:, 0], z[:, -1] = 0.0, 0.0
    along = np.concatenate(
        [np.zeros((half.size, 1)), np.cumsum(np.hypot(np.diff(y), np.diff(z)), axis=1)], axis=1
    )
    at = np.linspace(0.0, 1.0, panels + 1)
    rows = range(half.size)
    return (
        np.stack([np.interp(at * along[i, -1], along[i], y[i]) for i in rows]),
        np.stack([np.interp(at * along[i, -1], along[i], z[i]) for i in rows]),
    )
