"""Draw the figures of docs/motions.md: strip theory beside boundary elements and a towing tank.

Needs capytaine and three minutes. Run from the project folder::

    python docs/tools/make_motion_figures.py

The hulls and the reference are those of the tests (``tests/boundary_elements.py``, ``wigley.py``).
"""

from __future__ import annotations

import sys
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

sys.path.insert(0, "tests")
import boundary_elements as reference
import wigley as tank

from passage.physics.motions.strip_motion import strip_motion
from passage.units import G_M_S2

Floats = NDArray[np.float64]
FOLDER = Path("docs/pictures")
HULL, SPEED = "round", reference.SPEED_M_S
RATIOS, PERIODS = reference.RATIOS, reference.SEA_PERIODS_S
#: Ours, the reference as solved, made symmetric, measured, frame: seen on white and on black.
OURS, SOLVED, SYMMETRIC, MEASURED, FRAME = "#2f7fc1", "#d1662a", "#d1662a", "#3f9b5c", "#888888"
WIDE, HIGH, LEFT, TOP, GAP = 200, 130, 40, 34, 46


class Panel:
    """One set of axes at a place of the sheet."""

    def __init__(self, column: int, row: int, title: str, x: tuple, y: tuple) -> None:
        self.left, self.top = LEFT + column * (WIDE + GAP), TOP + row * (HIGH + GAP)
        self.x, self.y = x, y
        self.parts = [
            f'<rect x="{self.left}" y="{self.top}" width="{WIDE}" height="{HIGH}" fill="none" '
            f'stroke="{FRAME}"/>',
            label(self.left, self.top - 6, title),
        ]

    def at(self, x: float, y: float) -> tuple[float, float]:
        across = (x - self.x[0]) / (self.x[1] - self.x[0])
        up = (y - self.y[0]) / (self.y[1] - self.y[0])
        return self.left + across * WIDE, self.top + (1.0 - up) * HIGH

    def ticks(self, x: tuple, y: tuple) -> None:
        for value in x:
            px, py = self.at(value, self.y[0])
            self.parts.append(label(px, py + 13, f"{value:g}", "middle"))
        for value in y:
            px, py = self.at(self.x[0], value)
            self.parts.append(
                f'<line x1="{px:.1f}" y1="{py:.1f}" x2="{px + WIDE:.1f}" y2="{py:.1f}" '
                f'stroke="{FRAME}" stroke-width="0.4"/>'
            )
            self.parts.append(label(px - 4, py + 4, f"{value:g}", "end"))

    def line(self, x: Floats, y: Floats, colour: str, dash: str = "") -> None:
        points = " ".join("{:.1f},{:.1f}".format(*self.at(a, b)) for a, b in zip(x, y, strict=True))
        self.parts.append(
            f'<polyline points="{points}" fill="none" stroke="{colour}" stroke-width="1.6"'
            + (f' stroke-dasharray="{dash}"/>' if dash else "/>")
        )

    def dots(self, x: Floats, y: Floats, colour: str, *, filled: bool = True) -> None:
        for a, b in zip(x, y, strict=True):
            px, py = self.at(a, b)
            self.parts.append(
                f'<circle cx="{px:.1f}" cy="{py:.1f}" r="3" stroke="{colour}" '
                f'fill="{colour if filled else "none"}"/>'
            )

    def note(self, words: str) -> None:
        self.parts.append(label(self.left + WIDE - 5, self.top + HIGH - 6, words, "end"))


def label(x: float, y: float, words: str, anchor: str = "start") -> str:
    """A text element."""
    return (
        f'<text x="{x:.1f}" y="{y:.1f}" font-size="11" text-anchor="{anchor}" '
        f'fill="{FRAME}">{words}</text>'
    )


def write(name: str, title: str, panels: list[Panel], legend: list[tuple[str, str, bool]]) -> None:
    """One sheet with its legend below."""
    right = max(p.left for p in panels) + WIDE + 12
    bottom = max(p.top for p in panels) + HIGH + 24
    parts = [part for panel in panels for part in panel.parts]
    x = float(LEFT)
    for words, colour, is_line in legend:
        mark = (
            f'<line x1="{x}" y1="{bottom + 8}" x2="{x + 18}" y2="{bottom + 8}" stroke="{colour}" '
            f'stroke-width="1.6"/>'
            if is_line
            else f'<circle cx="{x + 9}" cy="{bottom + 8}" r="3" stroke="{colour}" '
            f'fill="{"none" if "symmetric" in words else colour}"/>'
        )
        parts += [mark, label(x + 24, bottom + 12, words)]
        x += 40 + 5.8 * len(words)
    height = bottom + 24
    text = (
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {right} {height}" width="{right}" '
        f'height="{height}" font-family="sans-serif" role="img"><title>{title}</title>'
        + "\n".join(parts)
        + "</svg>\n"
    )
    FOLDER.joinpath(name).write_text(text, encoding="utf-8")


def worst(ratio: Floats, x: Floats, unit: str) -> str:
    """Words for the ratio farthest from one, and where."""
    i = int(np.argmax(np.abs(np.log(ratio))))
    return f"worst {ratio[i]:.2f} at {x[i]:g} {unit}"


def responses() -> None:
    """Heave, pitch and effective slope over wavelength at 12 kn."""
    mu = np.deg2rad([180.0, 135.0, 90.0, 45.0])
    length = reference.HULLS[HULL][0]
    hull = reference.strips_of(HULL)

    def over(ratios: Floats) -> tuple[Floats, Floats]:
        omega = np.sqrt(2.0 * np.pi * G_M_S2 / (ratios * length))
        return omega, omega**2 / G_M_S2

    def scaled(found: Floats, k: Floats) -> Floats:
        return np.abs(found) / np.stack([np.ones_like(k), k, k])[:, :, None]

    fine = np.linspace(0.7, 3.1, 97)
    omega, k = over(fine)
    made = strip_motion(hull, omega, mu, SPEED)
    curves = scaled(np.stack([made.heave, made.pitch, made.slope]), k)
    omega, k = over(RATIOS)
    found = reference.answers(reference.panels_of(HULL), omega, mu, SPEED)
    solved, symmetric = (scaled(part, k) for part in found)
    panels = []
    for row, (what, most) in enumerate(
        (("heave, m/m", 2.0), ("pitch over k", 2.0), ("effective slope over k", 1.0))
    ):
        columns = (0, 1, 3) if row < 2 else (2, 1, 3)
        for column, j in enumerate(columns):
            panel = Panel(
                column, row, f"{what}, {np.rad2deg(mu[j]):.0f} degrees", (0.7, 3.1), (0.0, most)
            )
            panel.ticks((1, 1.5, 2, 2.5, 3), tuple(np.linspace(0.0, most, 5)))
            panel.line(fine, curves[row, :, j], OURS)
            if row < 2:
                panel.dots(RATIOS, symmetric[row, :, j], SYMMETRIC, filled=False)
            panel.dots(RATIOS, solved[row, :, j], SOLVED)
            ours = np.array([np.interp(r, fine, curves[row, :, j]) for r in RATIOS])
            panel.note(worst((ours / solved[row, :, j])[2:], RATIOS[2:], "lengths"))
            panels.append(panel)
    write(
        "motions_responses.svg",
        "Heave, pitch and effective wave slope at 12 kn over wavelength in ship lengths",
        panels,
        [
            ("strip theory", OURS, True),
            ("boundary elements", SOLVED, False),
            ("the same, coupling made symmetric", SYMMETRIC, False),
        ],
    )


def accelerations() -> None:
    """Vertical acceleration in 21 seas, ours over theirs, at five places."""
    mu, omega = reference.SEA_MU_RAD, reference.sea_omega(HULL)
    made = strip_motion(reference.strips_of(HULL), omega, mu, SPEED)
    found = reference.answers(reference.panels_of(HULL), omega, mu, SPEED, upright=True)

    def rms(lift: Floats) -> Floats:
        return reference.rms_in_seas(HULL, lift, 2)

    panels = []
    for i, x in enumerate((15.0, 6.0, 0.0, -6.0, -15.0)):
        where = "midship" if x == 0.0 else f"{abs(x):.0f} m {'forward' if x > 0 else 'aft'}"
        panel = Panel(i % 3, i // 3, f"{where}: ours over theirs", (4.7, 10.3), (0.7, 1.15))
        panel.ticks((5, 6, 7, 8, 9, 10), (0.7, 0.8, 0.9, 1.0, 1.1))
        ours = rms(made.heave + x * made.pitch)
        solved, symmetric = (ours / rms(part[0] - x * part[1]) for part in found)
        for j in range(mu.size):
            panel.line(PERIODS, solved[:, j], SOLVED)
            panel.dots(PERIODS, solved[:, j], SOLVED)
            panel.dots(PERIODS, symmetric[:, j], SYMMETRIC, filled=False)
        flat = int(np.argmin(solved))
        panel.note(
            f"worst {solved.min():.2f}: {PERIODS[flat // mu.size]:g} s, "
            f"{np.rad2deg(mu[flat % mu.size]):g} degrees"
        )
        panels.append(panel)
    write(
        "motions_acceleration.svg",
        "Vertical acceleration in 21 seas at 12 kn over peak period, strip theory over boundary "
        "elements",
        panels,
        [
            ("over boundary elements, one line for each heading", SOLVED, True),
            ("over the same, coupling made symmetric", SYMMETRIC, False),
        ],
    )


def in_the_tank() -> None:
    """Heave of the hulls measured at Delft."""
    measured = tank.HEAVE_AT_SPEED
    fine, panels = np.linspace(0.9, 2.1, 61), []
    few = np.array([1.1, 1.25, 1.384, 1.5, 1.75, 2.0])

    def omega_of(ratios: Floats) -> Floats:
        return np.sqrt(2.0 * np.pi * G_M_S2 / (ratios * tank.LENGTH_M))

    for i, ((name, froude), points) in enumerate(measured.items()):
        speed = froude * np.sqrt(G_M_S2 * tank.LENGTH_M)
        hull = reference.tank_panels(name)
        most = 3.2 if name == "I" else 2.4
        panel = Panel(i, 0, f"heave, hull {name}, Froude number {froude}", (0.9, 2.1), (0.0, most))
        panel.ticks((1, 1.25, 1.5, 1.75, 2), tuple(np.linspace(0.0, most, 5)))
        made = strip_motion(tank.wigley(name), omega_of(fine), [np.pi], speed)
        curve = np.abs(made.heave[:, 0])
        panel.line(fine, curve, OURS)
        found = np.abs(reference.answers(hull, omega_of(few), [np.pi], speed, upright=True))
        panel.dots(few, found[1, 0, :, 0], SYMMETRIC, filled=False)
        panel.dots(few, found[0, 0, :, 0], SOLVED)
        at, seen = np.array(list(points)), np.array(list(points.values()))
        panel.dots(at, seen, MEASURED)
        panel.note(worst(np.interp(at, fine, curve) / seen, at, "lengths"))
        panels.append(panel)
    write(
        "motions_tank.svg",
        "Heave in head waves as measured, by strip theory and by boundary elements",
        panels,
        [
            ("strip theory", OURS, True),
            ("measured", MEASURED, False),
            ("boundary elements", SOLVED, False),
            ("the same, coupling made symmetric", SYMMETRIC, False),
        ],
    )


def main() -> None:
    FOLDER.mkdir(exist_ok=True)
    in_the_tank()
    responses()
    accelerations()


if __name__ == "__main__":
    main()
