"""Route files read, checked and written; legs measured; tracks of short segments."""

from passage.inputs.route.build import build_route
from passage.inputs.route.model import Leg, Route, Waypoint
from passage.inputs.route.reading import read_route
from passage.inputs.route.track import Track, make_track
from passage.inputs.route.writing import (
    write_csv,
    write_exchange,
    write_geojson,
    write_gpx,
)

__all__ = [
    "Leg",
    "Route",
    "Track",
    "Waypoint",
    "build_route",
    "make_track",
    "read_route",
    "write_csv",
    "write_exchange",
    "write_geojson",
    "write_gpx",
]
