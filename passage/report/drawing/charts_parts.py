"""Parts of a chart as plain data: series, bands, limits, bars, spans."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field

from passage.report.drawing.svg_scale import Floats

WIDE_PX, NARROW_PX = 820.0, 340.0
FONT_PX = 12.0


@dataclass(frozen=True)
class Series:
    """A line: label, values over the shared axis, style number, whether marked or filled."""

    label: str
    values: Floats
    style: int = 0
    marks: bool = False
    fill: bool = False
    over: bool = False
    # ``over`` draws marks where the value is beyond the limit of the panel.


@dataclass(frozen=True)
class Band:
    """An area between two lines."""

    label: str
    low: Floats
    high: Floats
    style: int = 0


@dataclass(frozen=True)
class Limit:
    """A horizontal line with words: an owner's limit, a natural period."""

    value: float
    label: str
    kind: str = "limit"
    around: float = 0.0
    # ``around`` is half the width of a shaded strip about the value.


@dataclass(frozen=True)
class Bar:
    """A bar over the span [start, end] of the axis, stacked from parts."""

    start: float
    end: float
    parts: Sequence[float]


@dataclass(frozen=True)
class Panel:
    """One plot: its heading with unit, and what is drawn in it."""

    heading: str
    series: Sequence[Series] = ()
    bands: Sequence[Band] = ()
    limits: Sequence[Limit] = ()
    bars: Sequence[Bar] = ()
    bar_labels: Sequence[str] = ()
    height_px: float = 120.0
    from_zero: bool = True
    symmetric: bool = False
    top: float | None = None


@dataclass(frozen=True)
class Span:
    """A stretch of the axis: a leg, a stay, a gap in the forecast."""

    start: float
    end: float
    label: str = ""
    kind: str = "leg"


@dataclass(frozen=True)
class XAxis:
    """The shared axis: times (UTC) or numbers with a heading."""

    low: float
    high: float
    is_time: bool = True
    heading: str = ""
    names: Sequence[tuple[float, str]] = field(default_factory=tuple)
