"""Write a route in each of the formats that are read; atomic, never half a file."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

from passage.files import write_text
from passage.inputs.route.csv_file import format_csv
from passage.inputs.route.exchange_write import format_exchange
from passage.inputs.route.geojson_file import format_geojson
from passage.inputs.route.gpx_file import format_gpx
from passage.inputs.route.model import Route


def write_csv(route: Route, path: str | Path, *, force: bool = False) -> None:
    """Write the table; it has no columns for times, so a schedule is left out.

    Raises
    ------
    OutputError
        As `passage.files.atomic_path`, here and in the other writers.
    """
    write_text(Path(path), format_csv(route), force=force)


def write_gpx(route: Route, path: str | Path, *, force: bool = False) -> None:
    """Write GPX 1.1 with one ``rte``."""
    write_text(Path(path), format_gpx(route), force=force)


def write_geojson(route: Route, path: str | Path, *, force: bool = False) -> None:
    """Write GeoJSON with one feature, cut at the antimeridian where it crosses."""
    write_text(Path(path), format_geojson(route), force=force)


def write_exchange(
    route: Route,
    path: str | Path,
    *,
    etd_s: Sequence[float | None] | None = None,
    eta_s: Sequence[float | None] | None = None,
    speed_kn: Sequence[float | None] | None = None,
    author: str = "",
    force: bool = False,
) -> None:
    """Write the route exchange format of IEC 61174 Annex S, version 1.1.

    Parameters
    ----------
    route
        Its own speeds and stays are written as set by hand, its own times as
        computed unless ``etd_s`` and ``eta_s`` are given.
    etd_s, eta_s
        Of a plan: departure from the start and arrival at the end of every leg of
        ``route.legs``, stays included [s since 1970]; None or NaN where unknown.
    speed_kn
        Of a plan: speed through water on every leg, written as computed. [kn]
    author, force
        For the route information; replace an existing file.

    Raises
    ------
    ValueError
        Not one value per leg.
    """
    planned = None
    if etd_s is not None or eta_s is not None or speed_kn is not None:
        none: list[float | None] = [None] * len(route.legs)
        planned = route.with_schedule(
            none if etd_s is None else etd_s, none if eta_s is None else eta_s, speed_kn
        )
    write_text(Path(path), format_exchange(route, planned, author), force=force)
