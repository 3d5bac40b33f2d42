"""Random seas and ships for the error table of the spectral roll."""

from __future__ import annotations

import numpy as np
from roll_truth import Ship, System

from passage.physics.fins.force import Fins
from passage.physics.roll.excitation import roll_excitation_kernel
from passage.physics.roll.response import HullRoll, solve_roll
from passage.physics.waves.spectrum import COS2_WIDTH_RAD, width_from_s
from passage.physics.waves.table import SpeedTables

KINDS = ("mixed", "near resonance", "following", "lightly damped beam")
BEAM = 9.0


def random_case(rng: np.random.Generator, kind: str, speed: float, omega0: float):
    """Three systems and a ship of the named kind."""
    zeta = rng.uniform(0.02, 0.08)
    mu = rng.uniform(0, np.pi, 3)
    period = rng.uniform(3, 15, 3)
    height = rng.uniform(0.2, 3, 3)
    gamma = rng.choice([1.0, 2.0, 3.3, 3.3, 5.0], 3)
    s = rng.choice([0, 25, 25, 10, 50], 3)
    free = rng.random(3) < 0.25
    gamma = np.where(free, rng.uniform(1, 6, 3), gamma)
    s = np.where(free, rng.uniform(3, 90, 3), s)
    quadratic = rng.choice([0.0, 0.1, 0.3])
    if kind == "near resonance":
        zeta = rng.uniform(0.02, 0.03)
        we = omega0 * rng.uniform(0.9, 1.1)
        # Peak frequency that is met near resonance: the lowest root.
        a = speed * np.cos(mu) / 9.80665
        inner = np.maximum(1 - 4 * a * we, 0.05)
        peak = 2 * we / (1 + np.sqrt(inner))
        period = np.clip(2 * np.pi / peak, 3, 18)
    if kind == "following":
        mu = rng.uniform(0, np.radians(50), 3)
    if kind == "lightly damped beam":
        zeta, quadratic = 0.02, 0.0
        mu = rng.uniform(np.radians(60), np.radians(120), 3)
        gamma[:] = 5.0
        period = 2 * np.pi / omega0 * rng.uniform(0.8, 1.2, 3)
        height = np.array([1.0, 0.0, 0.0])
    systems = [
        System(h, t, m, g, None if n == 0 else n)
        for h, t, m, g, n in zip(height, period, mu, gamma, s, strict=True)
        if h > 0
    ]
    moment = 0.125 * (speed / 6.17333) ** 2
    gain = min((6.17333 / max(speed, 0.1)) ** 2, 4.0)
    ship = Ship(
        omega0, zeta, quadratic, BEAM, speed,
        moment=moment, inflow=3.6 / max(speed, 0.1), limit=np.radians(25),
        rate_limit=np.radians(30), stall=np.radians(26.4),
        k1=gain * rng.uniform(0, 1), k2=gain * rng.uniform(1, 7), k3=gain * rng.uniform(0, 0.5),
        offset=np.radians(rng.uniform(0, 8)),
    )  # fmt: skip
    return systems, ship


def centred(ship: Ship) -> Ship:
    """The same ship with fins at zero."""
    from dataclasses import replace

    return replace(ship, k1=0.0, k2=0.0, k3=0.0, offset=0.0)


class Tabled:
    """The package's answer for the same cases, tables kept by natural frequency."""

    def __init__(self) -> None:
        self._kernels = {}

    def roll(self, systems: list[System], ship: Ship) -> float:
        """Roll rms. [rad]"""
        key = (ship.omega0, ship.slope)
        if key not in self._kernels:
            kernel = roll_excitation_kernel(ship.omega0, ship.beam, ship.slope)
            self._kernels[key] = kernel, SpeedTables(kernel)
        kernel, tables = self._kernels[key]
        width = [COS2_WIDTH_RAD if s.s is None else float(width_from_s(s.s)) for s in systems]
        excitation = tables.variance(
            ship.speed,
            [s.height_m for s in systems],
            [s.peak_period_s for s in systems],
            [s.mu_rad for s in systems],
            [s.gamma for s in systems],
            width,
        )
        fins = Fins(
            [ship.moment], [ship.inflow], ship.limit, ship.rate_limit, ship.lag, ship.stall,
            ship.fall, ship.k1, ship.k2, ship.k3, ship.offset,
        )  # fmt: skip
        hull = HullRoll(ship.omega0, ship.zeta, ship.quadratic, 0.0)
        answer = solve_roll(excitation, kernel.nodes_rad_s, hull, fins, groups=False)
        if not answer.converged:
            return float("nan")
        return float(answer.roll_rms_rad)
