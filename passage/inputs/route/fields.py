"""One waypoint out of the text cells of any format, collecting what is wrong."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from typing import Literal, TypeVar

from passage.errors import Problem
from passage.inputs.route.model import MAX_SPEED_KN, MAX_STAY_H, Waypoint
from passage.inputs.route.positions import parse_latitude, parse_longitude
from passage.inputs.route.text import clean_name, parse_kind, parse_number, parse_time

T = TypeVar("T")


class Collector:
    """Runs parsers and turns their errors into problems with file and place."""

    def __init__(self, file: str) -> None:
        """Start without problems or notes."""
        self.file = file
        self.problems: list[Problem] = []
        self.notes: list[str] = []

    def complain(self, what: str, place: str = "", fix: str = "") -> None:
        """Record one problem."""
        self.problems.append(Problem(file=self.file, what=what, place=place, fix=fix))

    def note(self, text: str) -> None:
        """Record a note, once."""
        if text not in self.notes:
            self.notes.append(text)

    def take(self, parse: Callable[[str], T], text: str, default: T, place: str) -> T:
        """``parse(text)``, or the default and a problem."""
        try:
            return parse(text)
        except ValueError as err:
            self.complain(str(err), place)
            return default


def waypoint_from_text(
    cells: Mapping[str, str], *, number: int, place: str, into: Collector
) -> Waypoint:
    """A waypoint from cells named as the columns of a CSV route.

    Besides ``name, lat, lon, leg, speed_kn, stay_h`` it takes ``transfer`` (yes or no)
    and ``eta`` and ``etd`` in ISO 8601. Cells that are missing or empty take their
    default; latitude and longitude must be there. A broken cell leaves NaN or the default
    in its place and a problem in ``into``.
    """
    rhumb: Literal["rhumb", "great circle"] = "rhumb"
    nothing: float | None = None

    def take_number(key: str, unit: str, high: float, open_low: bool) -> float | None:
        text = cells.get(key, "").strip()
        if not text:
            return None
        return into.take(
            lambda t: parse_number(t, key, unit, low=0.0, high=high, open_low=open_low),
            text,
            nothing,
            place,
        )

    def take_time(key: str) -> float | None:
        text = cells.get(key, "").strip()
        if not text:
            return None
        time = into.take(lambda t: parse_time(t, key), text, (math.nan, True), place)
        if not time[1]:
            into.note("times of the schedule without a zone are read as UTC")
        return None if math.isnan(time[0]) else time[0]

    return Waypoint(
        name=clean_name(cells.get("name", ""), f"WP{number}"),
        lat_deg=into.take(parse_latitude, cells.get("lat", ""), math.nan, place),
        lon_deg=into.take(parse_longitude, cells.get("lon", ""), math.nan, place),
        kind=into.take(parse_kind, cells.get("leg", ""), rhumb, place),
        speed_kn=take_number("speed_kn", "kn", MAX_SPEED_KN, True),
        stay_h=take_number("stay_h", "h", MAX_STAY_H, False) or 0.0,
        eta_s=take_time("eta"),
        etd_s=take_time("etd"),
        place=place,
        transfer=_take_mark(cells.get("transfer", ""), place, into),
    )


def _take_mark(text: str, place: str, into: Collector) -> bool | None:
    """A yes or no, None where the cell is empty."""
    word = text.strip().lower()
    if word in ("yes", "no"):
        return word == "yes"
    if word:
        into.complain(f"transfer is {text.strip()!r}", place, "Write yes, no, or leave it empty.")
    return None
