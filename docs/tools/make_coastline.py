"""Repack Natural Earth's 10 m land into ``passage/data/coastline_10m.npz``.

How the file in the package was made, on any machine with npm::

    npm pack world-atlas@2.0.2
    tar xzf world-atlas-2.0.2.tgz
    python docs/tools/make_coastline.py package/land-10m.json

The source is TopoJSON: arcs of differences on an integer grid. Rings that go round
the antimeridian are cut there, Antarctica is closed along the pole, outer rings are
turned anticlockwise and holes clockwise, and everything stays on the source's grid
but for points on the cuts.
"""

from __future__ import annotations

import argparse
import json
import logging
from pathlib import Path

import numpy as np
import numpy.typing as npt

Ring = npt.NDArray[np.float64]

LOG = logging.getLogger("make_coastline")
TARGET = Path(__file__).parents[2] / "passage" / "data" / "coastline_10m.npz"
SOURCE = "Natural Earth 1:10m land, from the npm package world-atlas 2.0.2"


def read_polygons(path: Path) -> tuple[list[list[Ring]], npt.NDArray, npt.NDArray]:
    """Polygons as lists of closed rings in grid units, with the grid's scale and origin."""
    topology = json.loads(path.read_text(encoding="utf-8"))
    arcs = [np.cumsum(np.array(arc), axis=0) for arc in topology["arcs"]]

    def join(indices: list[int]) -> Ring:
        parts = [arcs[i] if i >= 0 else arcs[~i][::-1] for i in indices]
        joined = [parts[0], *(part[1:] for part in parts[1:])]
        return np.concatenate(joined).astype(np.float64)

    polygons = []
    for geometry in topology["objects"]["land"]["geometries"]:
        many = geometry["type"] == "MultiPolygon"
        for polygon in geometry["arcs"] if many else [geometry["arcs"]]:
            polygons.append([join(ring) for ring in polygon])
    transform = topology["transform"]
    return polygons, np.array(transform["scale"]), np.array(transform["translate"])


def cut(ring: Ring, turn: float, pole_y: float) -> list[Ring]:
    """Pieces of a ring between the two edges of the map.

    ``turn`` is 360 degrees in grid units; x runs from 0 to ``turn``.
    """
    x = np.unwrap(ring[:, 0], period=turn)
    whole = np.column_stack([x, ring[:, 1]])
    if not np.isclose(x[-1], x[0]):
        # Round the pole: go down, back along it, and close.
        foot = [[x[-1], pole_y], [x[0], pole_y], [x[0], ring[0, 1]]]
        whole = np.concatenate([whole, foot])
    low = np.floor(whole[:, 0].min() / turn)
    high = np.ceil(whole[:, 0].max() / turn)
    pieces = []
    for shift in np.arange(low, max(high, low + 1)):
        moved = whole - [shift * turn, 0.0]
        piece = clip(clip(moved, 0.0, keep_above=True), turn, keep_above=False)
        if len(piece) >= 4:
            pieces.append(piece)
    return pieces


def clip(ring: Ring, limit: float, *, keep_above: bool) -> Ring:
    """The part of a closed ring on one side of a meridian, closed along it."""
    side = ring[:, 0] - limit if keep_above else limit - ring[:, 0]
    out = []
    for k in range(len(ring) - 1):
        if side[k] >= 0.0:
            out.append(ring[k])
        if (side[k] > 0.0 > side[k + 1]) or (side[k] < 0.0 < side[k + 1]):
            share = side[k] / (side[k] - side[k + 1])
            crossing = ring[k] + share * (ring[k + 1] - ring[k])
            out.append(np.array([limit, crossing[1]]))
    return np.array([*out, out[0]]) if len(out) > 2 else np.empty((0, 2))


def turned(ring: Ring, *, anticlockwise: bool) -> Ring:
    """The ring in the direction asked for."""
    x, y = ring.T
    area = np.sum(x[:-1] * y[1:] - x[1:] * y[:-1])
    return ring if (area > 0.0) == anticlockwise else ring[::-1]


def repack(source: Path, target: Path) -> None:
    """Read, cut, orient and write compressed."""
    polygons, scale, translate = read_polygons(source)
    turn = round(360.0 / scale[0])
    pole_y = np.floor((-90.0 - translate[1]) / scale[1])
    rings = []
    for polygon in polygons:
        for number, ring in enumerate(polygon):
            for piece in cut(ring, turn, pole_y):
                whole = np.rint(turned(piece, anticlockwise=number == 0)).astype(np.int32)
                fresh = np.any(np.diff(whole, axis=0) != 0, axis=1)
                kept = whole[np.concatenate([[True], fresh])]
                if len(kept) >= 4:
                    rings.append(kept)
    # Differences within a ring compress to a third of the positions.
    steps = np.concatenate([np.diff(r, axis=0, prepend=np.zeros((1, 2), int)) for r in rings])
    np.savez_compressed(
        target,
        dx=steps[:, 0].astype(np.int32),
        dy=steps[:, 1].astype(np.int32),
        length=np.array([len(r) for r in rings], dtype=np.int32),
        scale_deg=scale,
        origin_deg=translate,
        source=np.array(SOURCE),
    )
    LOG.info(
        "%d rings, %d points, %.2f MB in %s",
        len(rings),
        len(steps),
        target.stat().st_size / 1e6,
        target,
    )


def main() -> None:
    """Command line."""
    logging.basicConfig(level=logging.INFO, format="%(message)s")
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("source", type=Path, help="land-10m.json of world-atlas 2.0.2")
    parser.add_argument("-o", "--output", type=Path, default=TARGET)
    options = parser.parse_args()
    repack(options.source, options.output)


if __name__ == "__main__":
    main()
