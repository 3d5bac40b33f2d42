"""Roll and drag against the time domain on random cases that no constant was fitted to.

    python tests/benchmarks/time_domain_held_out.py [CASES] [SEED] [wide]

Prints the error's size, median and 90 %, the largest and how many are over the bars, by the
share of time at a limit of angle or rate, or beyond the stall, whichever is most.
"""

from __future__ import annotations

import sys
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).resolve().parents[1]))

from roll_truth import Ship, System, cells
from time_domain import Run, simulate
from time_domain_cases import answer_of

from passage.physics.roll.excitation import encounter_nodes
from passage.physics.roll.response import RollResponse

#: Share of time at which a band of the table ends.
BANDS = (0.02, 0.10, 0.30, 0.50, 0.80)


@dataclass(frozen=True)
class Drawn:
    """One case, what the simulation says and what the package does."""

    ship: Ship
    sea: System
    heel_rad: float
    run: Run
    answer: RollResponse

    @property
    def busy(self) -> float:
        """Share of time at a limit or beyond the stall."""
        return max(self.run.share_at_limit, self.run.share_stalled)

    @property
    def errors(self) -> tuple[float, float, float]:
        """Of roll, drag (mean square of lift) and travel. [%]"""
        one = self.answer
        lift = float(one.lift_rms_rad[0] ** 2 + one.lift_mean_rad[0] ** 2)
        return (
            100.0 * (float(one.roll_rms_rad) / self.run.roll_rms - 1.0),
            100.0 * (lift / self.run.lift_square - 1.0),
            100.0 * (float(one.travel_rad_s[0]) / self.run.fin_rate_mean - 1.0),
        )


def draw(rng: np.random.Generator) -> tuple[Ship, System, float]:
    """A hull, its fins and gains, a sea and a steady heel, all at random.

    Which limit is close is drawn too, so that each of the three rules in a third of cases.
    """
    omega0 = 2.0 * np.pi / rng.uniform(6.0, 11.0)
    speed = rng.uniform(4.5, 8.5)
    close = rng.integers(3)
    rate = np.radians(rng.uniform(5.0, 15.0) if close == 1 else rng.uniform(18.0, 40.0))
    stall = np.radians(rng.uniform(13.0, 20.0) if close == 2 else rng.uniform(22.0, 32.0))
    limit = np.radians(rng.uniform(12.0, 22.0) if close == 0 else rng.uniform(20.0, 28.0))
    tilted = rng.random() < 0.3
    ship = Ship(
        omega0, rng.uniform(0.02, 0.07), rng.uniform(0.05, 0.3), rng.uniform(6.0, 11.0), speed,
        moment=rng.uniform(0.06, 0.25), inflow=rng.uniform(2.5, 4.5) / speed, limit=limit,
        rate_limit=rate, lag=rng.uniform(0.1, 0.4), stall=stall,
        k1=rng.uniform(0.0, 1.5), k2=rng.uniform(2.0, 9.0),
        k3=rng.uniform(0.0, 1.5) * (rng.random() < 0.4),
        offset=np.radians(rng.uniform(3.0, 9.0)) * tilted,
        delay=rng.choice([0.0, 0.1, 0.2]),
    )  # fmt: skip
    mu = np.radians(rng.uniform(45.0, 135.0))
    swell = rng.random() < 0.3
    sea = System(
        rng.uniform(0.8, 4.5), rng.uniform(6.0, 11.0), mu, 5.0 if swell else 3.3,
        25.0 if swell else None,
    )  # fmt: skip
    return ship, sea, ship.moment * ship.offset


def draw_wide(rng: np.random.Generator) -> tuple[Ship, System, float]:
    """The same over about everything that a vessel file takes, seas from bow and stern too."""
    omega0 = 2.0 * np.pi / rng.uniform(4.5, 14.0)
    speed = rng.uniform(3.5, 11.0)
    close = rng.integers(3)
    rate = np.radians(rng.uniform(4.0, 15.0) if close == 1 else rng.uniform(15.0, 60.0))
    stall = np.radians(rng.uniform(12.0, 20.0) if close == 2 else rng.uniform(20.0, 35.0))
    limit = np.radians(rng.uniform(10.0, 22.0) if close == 0 else rng.uniform(18.0, 32.0))
    tilted = rng.random() < 0.3
    ship = Ship(
        omega0, np.exp(rng.uniform(np.log(0.012), np.log(0.12))), rng.uniform(0.0, 0.5),
        rng.uniform(4.0, 13.0), speed,
        moment=np.exp(rng.uniform(np.log(0.03), np.log(0.35))),
        inflow=rng.uniform(2.0, 6.0) / speed, limit=limit,
        rate_limit=rate, lag=rng.uniform(0.1, 0.5), stall=stall,
        k1=rng.uniform(-0.3, 2.5), k2=rng.uniform(1.0, 11.0),
        k3=rng.uniform(0.0, 2.0) * (rng.random() < 0.4),
        offset=np.radians(rng.uniform(2.0, 10.0)) * tilted,
        delay=rng.choice([0.0, 0.1, 0.2, 0.3]),
    )  # fmt: skip
    mu = np.radians(rng.uniform(10.0, 170.0))
    swell = rng.random() < 0.3
    sea = System(
        rng.uniform(0.5, 6.0), rng.uniform(4.5, 14.0), mu, 5.0 if swell else 3.3,
        25.0 if swell else None,
    )  # fmt: skip
    return ship, sea, ship.moment * ship.offset


def energy_of(ship: Ship, sea: System) -> tuple[np.ndarray, np.ndarray]:
    """Nodes [rad/s] and excitation on them, dealt out cell by cell instead of by tables."""
    nodes = encounter_nodes(ship.omega0)
    slope, met = cells([sea], ship)
    met = np.minimum(met, nodes[-1])
    low = np.clip(np.searchsorted(nodes, met, "right") - 1, 0, nodes.size - 2)
    share = (met - nodes[low]) / (nodes[low + 1] - nodes[low])
    energy = np.bincount(low, slope * (1.0 - share), nodes.size)
    energy += np.bincount(low + 1, slope * share, nodes.size)
    return nodes, energy


def answer(ship: Ship, sea: System, heel_rad: float) -> RollResponse:
    """What the package says."""
    nodes, energy = energy_of(ship, sea)
    return answer_of(ship, energy, nodes, heel_rad)


def cases(
    count: int, seed: int, at_least: float = 0.0, records: int = 2, *, wide: bool = False
) -> list[Drawn]:
    """As many cases as asked for whose own answer is busy enough, and not beyond 80 %."""
    rng = np.random.default_rng(seed)
    most = np.radians(10.0 if wide else 7.5)
    found: list[Drawn] = []
    while len(found) < count:
        ship, sea, heel = (draw_wide if wide else draw)(rng)
        found_here = answer(ship, sea, heel)
        shares = np.maximum(found_here.share_at_limit, found_here.share_beyond_stall)
        busy = float(shares[0])
        if not at_least <= busy <= BANDS[-1] or float(found_here.roll_rms_rad) > most:
            continue
        run = simulate([sea], ship, heel, records=records, seed=seed + len(found))
        found.append(Drawn(ship, sea, heel, run, found_here))
    return found


def again(item: Drawn) -> Drawn:
    """The same case answered by the package as it is now."""
    return replace(item, answer=answer(item.ship, item.sea, item.heel_rad))


def table(items: list[Drawn]) -> str:
    """Rows of the page, a band of busy time each."""
    lines = ["| busy % | cases", "|---|---"]
    for name, bar in (("roll", "| over 5 % "), ("drag", "| over 10 % "), ("travel", "")):
        lines[0] += f" | {name} median | 90 % | largest {bar}"
        lines[1] += "|---" * (4 if bar else 3)
    lines = [one.rstrip() + "|" if "-" in one else one + "|" for one in lines]
    low = 0.0
    for high in BANDS:
        some = [item for item in items if low <= item.busy < high]
        if some:
            line = f"| {100 * low:.0f} to {100 * high:.0f} | {len(some)}"
            errors = np.array([item.errors for item in some]).T
            for values, bar in zip(errors, (5.0, 10.0, None), strict=True):
                size = np.abs(values)
                line += f" | {np.median(size):.1f} | {np.quantile(size, 0.9):.1f}"
                line += f" | {values[np.argmax(size)]:+.1f}"
                line += "" if bar is None else f" | {np.sum(size > bar)}"
            lines.append(line + " |")
        low = high
    return "\n".join(lines)


def main() -> None:
    """Run and print."""
    count = int(sys.argv[1]) if len(sys.argv) > 1 else 150
    seed = int(sys.argv[2]) if len(sys.argv) > 2 else 2024
    print(table(cases(count, seed, at_least=0.005, wide="wide" in sys.argv)))


if __name__ == "__main__":
    main()
