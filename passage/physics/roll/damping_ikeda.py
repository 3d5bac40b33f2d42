"""Roll damping of a bare hull with bilge keels by the simplified Ikeda method.

A regression on the component method (friction, wave making, eddies, bilge keels), for
a first estimate when no roll decay has been measured. Motor yachts are often outside its
limits; `outside_limits` names the inputs concerned, and the caller must widen the band.

Components are dimensionless, ``B44 sqrt(B / 2g) / (rho volume B^2)``. ``og_m`` is the depth
of the roll axis below the waterline, positive *downward*: the opposite sign to the OG of the
IMO weather criterion.

References
----------
Y. Kawahara, K. Maekawa, Y. Ikeda, "A simple prediction formula of roll damping of
conventional cargo ships on the basis of Ikeda's method and its limitation", STAB 2009;
also Fluid Mechanics and Its Applications vol. 97 (Springer, 2012). Speed factors: ITTC
7.5-02-07-04.5.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from passage.units import G_M_S2, NU_SEA_M2_S, RHO_SEA_KG_M3, rad_to_deg

Floats = NDArray[np.float64]

#: Limits of the regression, by the quantity's name in `outside_limits`.
LIMITS: dict[str, tuple[float, float]] = {
    "block coefficient": (0.5, 0.85),
    "beam / draught": (2.5, 4.5),
    "roll axis depth / draught": (-1.5, 0.2),
    "midship coefficient": (0.9, 0.99),
    "bilge keel breadth / beam": (0.01, 0.06),
    "bilge keel length / length": (0.05, 0.4),
    "dimensionless frequency": (0.0, 1.0),
}

#: Largest growth of wave damping with speed; the formula overpredicts it (assumption).
WAVE_SPEED_FACTOR_CAP = 12.0

# Coefficients of the wave part, highest power first; printed digits kept, because
# sixth-order polynomials in the block coefficient lose them.
# fmt: off
_A11 = (
    (-0.002222, 0.040871, -0.286866, 0.599424),
    (0.010185, -0.161176, 0.904989, -1.641389),
    (-0.015422, 0.220371, -1.084987, 1.834167),
)
_A12 = (
    (-0.0628667, 0.4989259, 0.52735, -10.7918672, 16.616327),
    (0.1140667, -0.8108963, -2.2186833, 25.1269741, -37.7729778),
    (-0.0589333, 0.2639704, 3.1949667, -21.8126569, 31.4113508),
    (0.0107667, 0.0018704, -1.2494083, 6.9427931, -10.2018992),
)
_A13 = (
    (0.192207, -2.787462, 12.507855, -14.764856),
    (-0.350563, 5.222348, -23.974852, 29.007851),
    (0.237096, -3.535062, 16.368376, -20.539908),
    (-0.067119, 0.966362, -4.407535, 5.894703),
)
_AA11 = (
    (17.945, -166.294, 489.799, -493.142),
    (-25.507, 236.275, -698.683, 701.494),
    (9.077, -84.332, 249.983, -250.787),
)
_AA12 = (
    (-16.872, 156.399, -460.689, 463.848),
    (24.015, -222.507, 658.027, -660.665),
    (-8.56, 79.549, -235.827, 236.579),
)
_A2 = (-1.402, 7.189, -10.993, 9.45)
_A3 = (
    (-7686.0287, 30131.5678, -49048.9664, 42480.7709, -20665.147, 5355.2035, -577.8827),
    (61639.9103, -241201.0598, 392579.5937, -340629.4699, 166348.6917, -43358.7938, 4714.7918),
    (-130677.4903, 507996.2604, -826728.7127, 722677.104, -358360.7392, 95501.4948, -10682.8619),
    (-110034.6584, 446051.22, -724186.4643, 599411.9264, -264294.7189, 58039.7328, -4774.6414),
    (709672.0656, -2803850.2395, 4553780.5017, -3888378.9905,
     1839829.259, -457313.6939, 46600.823),
    (-822735.9289, 3238899.7308, -5256636.5472, 4500543.147,
     -2143487.3508, 538548.1194, -55751.1528),
    (299122.8727, -1175773.1606, 1907356.1357, -1634256.8172,
     780020.9393, -196679.7143, 20467.0904),
)
_AA3 = (
    -1.05584, 12.688, -63.70534, 172.84571, -274.05701,
    257.68705, -141.40915, 44.13177, -7.1654, 0.0,
)
_AA31 = (-0.3767, 3.39, -10.356, 11.588)
# fmt: on


def _poly(coefficients: tuple[float, ...], x: Floats) -> Floats:
    return np.asarray(np.polyval(coefficients, x))


def _nested(rows: tuple[tuple[float, ...], ...], outer: Floats, inner: Floats) -> Floats:
    """Polynomial in ``outer`` whose coefficients are polynomials in ``inner``."""
    total = np.zeros(np.broadcast(outer, inner).shape)
    for row in rows:
        total = total * outer + _poly(row, inner)
    return total


@dataclass(frozen=True, kw_only=True)
class IkedaHull:
    """Hull dimensions for the method, floats or arrays that broadcast: [m], coefficients
    dimensionless."""

    length_m: ArrayLike
    beam_m: ArrayLike
    draught_m: ArrayLike
    block_coefficient: ArrayLike
    midship_coefficient: ArrayLike
    og_m: ArrayLike
    keel_length_m: ArrayLike = 0.0
    keel_breadth_m: ArrayLike = 0.0


@dataclass(frozen=True, kw_only=True)
class IkedaDamping:
    """Components of roll damping and their sum, dimensionless."""

    friction: Floats
    wave: Floats
    eddy: Floats
    bilge_keels: Floats

    @property
    def total(self) -> Floats:
        """Sum of the components, without hull lift. Dimensionless."""
        return np.asarray(self.friction + self.wave + self.eddy + self.bilge_keels)


def dimensionless_frequency(omega_rad_s: ArrayLike, beam_m: ArrayLike) -> Floats:
    """Dimensionless frequency, omega sqrt(B / 2g). [dimensionless]"""
    return np.asarray(omega_rad_s, float) * np.sqrt(np.asarray(beam_m, float) / (2 * G_M_S2))


def wave_component(
    block: ArrayLike, beam_draught: ArrayLike, midship: ArrayLike, og_d: ArrayLike, w: ArrayLike
) -> Floats:
    """Wave-making damping at rest; ``w`` is the dimensionless frequency, > 0.

    All dimensionless, broadcasting. Kawahara, Maekawa and Ikeda 2009.
    """
    x1, x2, x3 = (np.asarray(v, float) for v in (beam_draught, block, midship))
    x4 = 1.0 - np.asarray(og_d, float)
    a1 = (_nested(_A11, x2, x1) * x4**2 + _nested(_A12, x2, x1) * x4 + _nested(_A13, x2, x1)) * (
        (_nested(_AA11, x2, x1) * x3 + _nested(_AA12, x2, x1)) * (1.0 - x4) + 1.0
    )
    a2 = _poly(_A2, x4)
    shift = x4 - (-0.0727 * x1**2 + 0.7 * x1 - 1.2818)
    aa31 = _poly(_AA31, x1) * (
        (-17.102 * x2**3 + 41.495 * x2**2 - 33.234 * x2 + 8.8007) * x4
        + 36.566 * x2**3 - 89.203 * x2**2 + 71.8 * x2 - 18.108
    )  # fmt: skip
    aa3 = aa31 * (_poly(_AA3, shift) - 0.0495 * x1**2 + 0.4518 * x1 - 0.61655)
    a3 = _nested(_A3, x4, x2) + aa3
    frequency = np.asarray(w, float)
    return np.asarray(a1 / frequency * np.exp(-a2 * (np.log(frequency) - a3) ** 2 / 1.44))


def eddy_component(
    block: ArrayLike,
    beam_draught: ArrayLike,
    midship: ArrayLike,
    og_d: ArrayLike,
    w: ArrayLike,
    amplitude_rad: ArrayLike,
) -> Floats:
    """Eddy-making damping at rest, proportional to roll amplitude.

    Coefficients and ratios dimensionless, ``w`` the dimensionless frequency, amplitude in rad,
    broadcasting; the damping is dimensionless as in :func:`ikeda_damping`. Kawahara, Maekawa
    and Ikeda 2009.
    """
    c, x1, cm, o = (np.asarray(v, float) for v in (block, beam_draught, midship, og_d))
    ae = (
        (-0.0182 * c + 0.0155) * (x1 - 1.8) ** 3
        - 79.414 * c**4 + 215.695 * c**3 - 215.883 * c**2 + 93.894 * c - 14.848
    )  # fmt: skip
    be1 = (
        (3.98 * c - 5.1525)
        * (-0.2 * x1 + 1.6)
        * o
        * ((0.9717 * c**2 - 1.55 * c + 0.723) * o + 0.04567 * c + 0.9408)
    )
    be2 = (0.25 * o + 0.95) * o - 219.2 * c**3 + 443.7 * c**2 - 283.3 * c + 59.6
    be3 = -15.0 * c * x1 + 46.5 * c + 11.2 * x1 - 28.6
    pressure = ae * np.exp(be1 + be2 * cm**be3)
    amplitude = np.asarray(amplitude_rad, float)
    return np.asarray(
        4.0 * np.asarray(w, float) * amplitude * pressure / (3.0 * math.pi * c * x1**3)
    )


def bilge_keel_component(
    block: ArrayLike,
    beam_draught: ArrayLike,
    midship: ArrayLike,
    og_d: ArrayLike,
    w: ArrayLike,
    amplitude_rad: ArrayLike,
    breadth_ratio: ArrayLike,
    length_ratio: ArrayLike,
) -> Floats:
    """Bilge-keel damping; zero where there are no keels.

    Coefficients and ratios dimensionless, ``w`` the dimensionless frequency, amplitude in rad,
    broadcasting; the damping is dimensionless as in :func:`ikeda_damping`. Kawahara, Maekawa
    and Ikeda 2009.
    """
    c, x1, cm, o = (np.asarray(v, float) for v in (block, beam_draught, midship, og_d))
    q, ratio = np.asarray(breadth_ratio, float), np.asarray(length_ratio, float)
    deg = rad_to_deg(np.asarray(amplitude_rad, float))
    f1 = (-0.3651 * c + 0.3907) * (x1 - 2.83) ** 2 - 2.21 * c + 2.632
    f2 = 0.00255 * deg**2 + 0.122 * deg + 0.4794
    f3 = (-0.8913 * q**2 - 0.0733 * q) * ratio**2 + (5.2857 * q**2 - 0.01185 * q + 0.00189) * ratio
    k1 = (5.0 * q + 0.3 * x1 - 0.2 * ratio + 0.00125 * deg**2 - 0.0425 * deg - 1.86) * o
    k2 = -15.0 * q + 1.2 * c - 0.1 * x1 - 0.0657 * o**2 + 0.0586 * o + 1.6164
    k3 = 2.5 * o + 15.75
    keels = f1 * f2 * f3 * np.exp(k1 + k2 * cm**k3) * np.asarray(w, float)
    # The fit does not quite vanish at zero keel breadth.
    return np.where((q > 0.0) & (ratio > 0.0), keels, 0.0 * keels)


def friction_component(
    hull: IkedaHull,
    omega_rad_s: ArrayLike,
    amplitude_rad: ArrayLike,
    viscosity_m2_s: float = NU_SEA_M2_S,
) -> Floats:
    """Skin friction at rest (Kato's form), dimensionless."""
    length, beam, d = (np.asarray(v, float) for v in (hull.length_m, hull.beam_m, hull.draught_m))
    c, og = np.asarray(hull.block_coefficient, float), np.asarray(hull.og_m, float)
    omega, phi = np.asarray(omega_rad_s, float), np.asarray(amplitude_rad, float)
    radius = d * ((0.887 + 0.145 * c) * (1.7 + c * beam / d) - 2.0 * og / d) / math.pi
    surface = length * (1.75 * d + c * beam)
    period = 2.0 * math.pi / omega
    # The drag coefficient (phi^-1) and the moment (phi^1) are multiplied out, so that a zero
    # amplitude gives the limit and not 0 / 0.
    drag_times_phi = 1.328 / np.sqrt(3.22 * radius**2 / (period * viscosity_m2_s))
    drag_times_phi = drag_times_phi + 0.0 * phi
    damping = 4.0 / (3.0 * math.pi) * RHO_SEA_KG_M3 * surface * radius**3 * drag_times_phi * omega
    volume = c * length * beam * d
    return np.asarray(damping * np.sqrt(beam / (2 * G_M_S2)) / (RHO_SEA_KG_M3 * volume * beam**2))


def wave_speed_factor(omega_rad_s: ArrayLike, draught_m: ArrayLike, speed_m_s: ArrayLike) -> Floats:
    """Growth of wave damping with speed, capped at `WAVE_SPEED_FACTOR_CAP`.

    Roll frequency [rad/s], draught [m], speed [m/s], broadcasting; dimensionless.

    Notes
    -----
    With Omega = w U / g, z = w^2 d / g, a1 = 1 + z^-1.2 exp(-2 z) and
    a2 = 0.5 + exp(-2 z) / z the factor is half of
    (a2 + 1) + (a2 - 1) tanh(20 (Omega - 0.3)) + (2 a1 - a2 - 1) exp(-150 (Omega - 0.25)^2).
    The form is from memory of ITTC 7.5-02-07-04.5; it gives 1 at rest and a2 far beyond
    Omega = 0.3. A public copy prints a1 + 1 in the first bracket, which would give about 2 at
    rest.
    """
    omega = np.asarray(omega_rad_s, float)
    reduced = omega * np.asarray(speed_m_s, float) / G_M_S2
    z = omega**2 * np.asarray(draught_m, float) / G_M_S2
    a1 = 1.0 + z**-1.2 * np.exp(-2.0 * z)
    a2 = 0.5 + z**-1.0 * np.exp(-2.0 * z)
    factor = 0.5 * (
        (a2 + 1.0)
        + (a2 - 1.0) * np.tanh(20.0 * (reduced - 0.3))
        + (2.0 * a1 - a2 - 1.0) * np.exp(-150.0 * (reduced - 0.25) ** 2)
    )
    return np.minimum(factor, WAVE_SPEED_FACTOR_CAP)


def ikeda_damping(
    hull: IkedaHull,
    omega_rad_s: ArrayLike,
    amplitude_rad: ArrayLike,
    speed_m_s: ArrayLike = 0.0,
) -> IkedaDamping:
    """All components at a frequency, roll amplitude and speed.

    Parameters
    ----------
    hull
        The hull; inputs outside `LIMITS` are used unchanged, see `outside_limits`.
    omega_rad_s
        Roll frequency, > 0 [rad/s].
    amplitude_rad
        Roll amplitude, >= 0 [rad].
    speed_m_s
        Speed through the water, >= 0 [m/s].

    Returns
    -------
    IkedaDamping
        Components of the broadcast shape, dimensionless, without hull lift
        (`passage.physics.roll.damping.hull_lift_damping_n_m_s`).
    """
    omega, speed = np.asarray(omega_rad_s, float), np.asarray(speed_m_s, float)
    length, beam, d = (np.asarray(v, float) for v in (hull.length_m, hull.beam_m, hull.draught_m))
    w = dimensionless_frequency(omega, beam)
    form = (hull.block_coefficient, beam / d, hull.midship_coefficient, hull.og_m / d)
    friction = friction_component(hull, omega, amplitude_rad)
    reduced = 0.04 * omega * length
    return IkedaDamping(
        friction=friction * (1.0 + 4.1 * speed / (omega * length)),
        wave=wave_component(*form, w) * wave_speed_factor(omega, d, speed),
        # (0.04 K)^2 / (1 + (0.04 K)^2) with K = w L / U, in a form that is valid at rest.
        eddy=eddy_component(*form, w, amplitude_rad) * reduced**2 / (reduced**2 + speed**2),
        bilge_keels=bilge_keel_component(
            *form, w, amplitude_rad, hull.keel_breadth_m / beam, hull.keel_length_m / length
        ),
    )


def outside_limits(hull: IkedaHull, omega_rad_s: ArrayLike) -> dict[str, NDArray[np.bool_]]:
    """Flags by name of input, True where it is outside the regression's limits.

    Frequency in [rad/s]; flags of the broadcast shape. Bilge keels count only where fitted;
    NaN is not outside.
    """
    beam, d = np.asarray(hull.beam_m, float), np.asarray(hull.draught_m, float)
    breadth = np.asarray(hull.keel_breadth_m, float)
    values = {
        "block coefficient": np.asarray(hull.block_coefficient, float),
        "beam / draught": beam / d,
        "roll axis depth / draught": np.asarray(hull.og_m, float) / d,
        "midship coefficient": np.asarray(hull.midship_coefficient, float),
        "bilge keel breadth / beam": breadth / beam,
        "bilge keel length / length": np.asarray(hull.keel_length_m, float)
        / np.asarray(hull.length_m, float),
        "dimensionless frequency": dimensionless_frequency(omega_rad_s, beam),
    }
    fitted = breadth > 0.0
    out = {}
    for name, value in values.items():
        low, high = LIMITS[name]
        bad = (value < low) | (value > high)
        out[name] = np.asarray(bad & fitted if name.startswith("bilge keel") else bad)
    return out
