"""Small pieces of inline SVG: elements, lines with gaps, bands, markers.

Every function returns a string that is safe to put into the page: attributes and texts
are HTML-escaped here, and nowhere else. The markup has no colours: classes name a role,
and the style sheet gives it a colour by day and by night.
"""

from __future__ import annotations

import math
import zlib
from collections.abc import Iterable, Sequence

import numpy as np
import numpy.typing as npt
from markupsafe import escape

Floats = npt.NDArray[np.float64]

#: Mean advance of a character as a share of the font size, for placing labels.
CHARACTER_EM = 0.54
#: Number of series styles (colour class, dash, marker), after which they repeat.
STYLES = 6


def number(value: float) -> str:
    """A coordinate to a tenth of a pixel, without needless digits."""
    text = f"{float(value):.1f}"
    return text[:-2] if text.endswith(".0") else text


def tag(name: str, content: str | None = None, /, **attributes: object) -> str:
    """One element. ``content`` is markup already made here; None closes it empty.

    Attribute names take ``_`` for ``-`` and a trailing ``_`` is dropped
    (``class_``). None leaves the attribute out. Floats are written as
    coordinates; everything else is escaped.
    """
    return _with(name, content, attributes)


def _with(name: str, content: str | None, attributes: dict[str, object]) -> str:
    parts = [name]
    for key, value in attributes.items():
        if value is None:
            continue
        shown = number(value) if isinstance(value, float) else str(escape(str(value)))
        parts.append(f'{key.rstrip("_").replace("_", "-")}="{shown}"')
    head = " ".join(parts)
    return f"<{head}/>" if content is None else f"<{head}>{content}</{name}>"


def text(x: float, y: float, words: object, **attributes: object) -> str:
    """A text element; ``words`` are escaped."""
    return _with("text", str(escape(str(words))), attributes | {"x": float(x), "y": float(y)})


def group(parts: Iterable[str], **attributes: object) -> str:
    """A group of elements."""
    return _with("g", "".join(parts), attributes)


def text_width(words: str, size_px: float) -> float:
    """Estimated width of a label [px]."""
    return CHARACTER_EM * size_px * len(words)


def shortened(words: str, room_px: float, size_px: float = 12.0) -> str:
    """Words cut with an ellipsis to fit; the table beside a drawing has them in full."""
    fits = max(int(room_px / (CHARACTER_EM * size_px)), 3)
    return words if len(words) <= fits else words[: fits - 1].rstrip() + "\u2026"


def style_of(index: int) -> str:
    """Class names of the n-th series: its colour and its dash."""
    n = index % STYLES + 1
    return f"c{n} d{n}"


def runs(known: npt.NDArray[np.bool_]) -> list[tuple[int, int]]:
    """Start and end (exclusive) of each run of True."""
    edges = np.flatnonzero(np.diff(np.concatenate(([0], known.astype(int), [0]))))
    return [(int(a), int(b)) for a, b in zip(edges[::2], edges[1::2], strict=True)]


def cut_above(x: Floats, y: Floats, top: float) -> tuple[Floats, Floats]:
    """A line cut off above ``top``, with points added where it crosses ``top``."""
    x, y = np.asarray(x, dtype=float), np.asarray(y, dtype=float)
    out_x: list[float] = []
    out_y: list[float] = []
    for i in range(x.size):
        if i and (y[i] > top) != (y[i - 1] > top) and np.isfinite(y[i]) and np.isfinite(y[i - 1]):
            share = (top - y[i - 1]) / (y[i] - y[i - 1])
            out_x.append(float(x[i - 1] + share * (x[i] - x[i - 1])))
            out_y.append(top)
        out_x.append(float(x[i]))
        out_y.append(float(y[i]) if y[i] <= top else np.nan)
    return np.array(out_x), np.array(out_y)


def _points(x: Floats, y: Floats) -> str:
    return "L".join(f"{number(a)} {number(b)}" for a, b in zip(x, y, strict=True))


def line(x: Floats, y: Floats, **attributes: object) -> str:
    """A line through the points; it breaks where either coordinate is NaN.

    A single point between gaps becomes a short dash, so that it is not lost.
    """
    x, y = np.asarray(x, dtype=float), np.asarray(y, dtype=float)
    pieces = []
    for a, b in runs(np.isfinite(x) & np.isfinite(y)):
        if b - a == 1:
            pieces.append(f"M{number(x[a] - 2)} {number(y[a])}h4")
        else:
            pieces.append("M" + _points(x[a:b], y[a:b]))
    if not pieces:
        return ""
    return _with("path", None, {"d": "".join(pieces), **attributes})


def band(x: Floats, low: Floats, high: Floats, **attributes: object) -> str:
    """The area between two lines; it breaks where either is NaN."""
    x, low, high = (np.asarray(v, dtype=float) for v in (x, low, high))
    pieces = []
    for a, b in runs(np.isfinite(x) & np.isfinite(low) & np.isfinite(high)):
        if b - a > 1:
            there, back = _points(x[a:b], high[a:b]), _points(x[a:b][::-1], low[a:b][::-1])
            pieces.append(f"M{there}L{back}Z")
    return _with("path", None, {"d": "".join(pieces), **attributes}) if pieces else ""


def marker(kind: int, x: float, y: float, size: float = 5.0, **attributes: object) -> str:
    """A mark of the n-th shape: circle, square, triangles, diamond, cross."""
    if not (math.isfinite(x) and math.isfinite(y)):
        return ""
    s = size
    shapes = (
        f"M{number(x - s)} {number(y)}a{s} {s} 0 1 0 {2 * s} 0a{s} {s} 0 1 0 {-2 * s} 0Z",
        f"M{number(x - 0.9 * s)} {number(y - 0.9 * s)}h{1.8 * s:.1f}v{1.8 * s:.1f}h{-1.8 * s:.1f}Z",
        f"M{number(x)} {number(y - 1.15 * s)}l{1.1 * s:.1f} {2 * s:.1f}h{-2.2 * s:.1f}Z",
        f"M{number(x)} {number(y - 1.3 * s)}l{1.3 * s:.1f} {1.3 * s:.1f}"
        f"l{-1.3 * s:.1f} {1.3 * s:.1f}l{-1.3 * s:.1f} {-1.3 * s:.1f}Z",
        f"M{number(x)} {number(y + 1.15 * s)}l{1.1 * s:.1f} {-2 * s:.1f}h{-2.2 * s:.1f}Z",
        f"M{number(x - s)} {number(y - s)}l{2 * s:.1f} {2 * s:.1f}"
        f"m{-2 * s:.1f} 0l{2 * s:.1f} {-2 * s:.1f}",
    )
    return _with("path", None, {"d": shapes[kind % len(shapes)], **attributes})


def spread_apart(wanted: Sequence[float], gap: float, low: float, high: float) -> list[float]:
    """Move label heights so that neighbours are ``gap`` apart within [low, high].

    Keeps their order, and stays as near to the wanted heights as one pass down and one
    pass up allow.
    """
    order = sorted(range(len(wanted)), key=lambda i: wanted[i])
    placed = list(wanted)
    floor = low
    for i in order:
        placed[i] = max(placed[i], floor)
        floor = placed[i] + gap
    ceiling = high
    for i in reversed(order):
        placed[i] = min(placed[i], ceiling)
        ceiling = placed[i] - gap
    return placed


def drawing(
    width: float, height: float, content: str, *, title: str, description: str, key: str
) -> str:
    """The outer ``<svg>`` with its title and description for those who cannot see it.

    ``key`` with a checksum of the drawing makes the ids unique on the page, even with one
    chart of the same kind for each route.
    """
    key = f"{key}-{zlib.crc32((title + content).encode('utf-8')):08x}"
    head = tag("title", str(escape(title)), id=f"{key}-t") + tag(
        "desc", str(escape(description)), id=f"{key}-d"
    )
    return tag(
        "svg",
        head + content,
        viewBox=f"0 0 {number(width)} {number(height)}",
        width=float(width),
        height=float(height),
        role="img",
        aria_labelledby=f"{key}-t {key}-d",
    )
