"""Route files read and checked, legs measured, tracks cut into short segments."""

from passage.inputs.route.model import Leg, Route, Waypoint
from passage.inputs.route.reading import read_route
from passage.inputs.route.track import Track, make_track

__all__ = ["Leg", "Route", "Track", "Waypoint", "make_track", "read_route"]
