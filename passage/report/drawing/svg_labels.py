"""Places labels beside their marks, within the drawing and clear of one another."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from passage.report.drawing import svg


@dataclass(frozen=True)
class Box:
    """A rectangle on the drawing [px]."""

    left: float
    top: float
    right: float
    bottom: float

    def meets(self, other: Box, gap: float = 0.0) -> bool:
        """Whether the two overlap or are nearer than ``gap``."""
        return (
            self.left < other.right + gap
            and other.left < self.right + gap
            and self.top < other.bottom + gap
            and other.top < self.bottom + gap
        )

    def within(self, other: Box) -> bool:
        """Whether it lies inside the other."""
        return (
            self.left >= other.left
            and self.right <= other.right
            and self.top >= other.top
            and self.bottom <= other.bottom
        )


@dataclass(frozen=True)
class Placed:
    """A label with the baseline of its text, its anchor and the box it fills."""

    words: str
    x: float
    y: float
    anchor: str
    box: Box


def text_box(words: str, x: float, y: float, anchor: str, size_px: float) -> Box:
    """Box of a text on a baseline, 12 % wider than its estimated width."""
    width = 1.12 * svg.text_width(words, size_px)
    left = {"start": x, "middle": x - 0.5 * width, "end": x - width}[anchor]
    return Box(left, y - 0.85 * size_px, left + width, y + 0.25 * size_px)


def beside(
    words: str,
    x: float,
    y: float,
    taken: Sequence[Box],
    bounds: Box,
    *,
    size_px: float = 12.0,
    off_px: float = 9.0,
    reach_px: float = 70.0,
) -> Placed | None:
    """The first free place about (x, y): right, left, above, below, then further out.

    None where there is none within ``reach_px``.
    """
    step = 0.0
    while step <= reach_px:
        far = off_px + step
        drop = 0.35 * size_px
        places = [
            (x + off_px, y - far + 1.0, "start"), (x + far, y + drop, "start"),
            (x + off_px, y + far + 0.6 * size_px, "start"), (x - far, y + drop, "end"),
            (x - off_px, y - far + 1.0, "end"), (x - off_px, y + far + 0.6 * size_px, "end"),
            (x, y - far - 2.0, "middle"), (x, y + far + size_px, "middle"),
        ]  # fmt: skip
        for left, base, anchor in places:
            box = text_box(words, left, base, anchor, size_px)
            if box.within(bounds) and not any(box.meets(other, 1.5) for other in taken):
                return Placed(words, left, base, anchor, box)
        step += 0.7 * size_px
    return None


def shown(place: Placed, classes: str) -> str:
    """The text element of a placed label."""
    anchor = None if place.anchor == "start" else place.anchor
    return svg.text(place.x, place.y, place.words, class_=classes, text_anchor=anchor)


def leader(place: Placed, x: float, y: float, least_px: float = 16.0) -> str:
    """A thin line from the mark to its label where the two are far apart; else nothing."""
    nearest_x = min(max(x, place.box.left), place.box.right)
    nearest_y = min(max(y, place.box.top), place.box.bottom)
    if abs(nearest_x - x) + abs(nearest_y - y) < least_px:
        return ""
    return svg.tag("path", d=f"M{x:.1f} {y:.1f}L{nearest_x:.1f} {nearest_y:.1f}", class_="leader")
