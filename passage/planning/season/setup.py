"""Input of a season: files, options, passages; read once and kept."""

from __future__ import annotations

import hashlib
from dataclasses import asdict, dataclass, field, replace
from functools import lru_cache
from pathlib import Path
from typing import Any

import numpy as np
import numpy.typing as npt

from passage import __version__
from passage.errors import PassageError
from passage.files import named_part
from passage.inputs.forecast import Forecast
from passage.inputs.forecast.harbour import Harbour
from passage.inputs.hindcast.hindcast import open_hindcast
from passage.inputs.route import read_route
from passage.inputs.vessel import read_vessel
from passage.planning.plan.plan import PlanOptions, passage_seconds
from passage.planning.season.march import track_speeds_m_s
from passage.planning.season.standing import (
    LEFT_SHARES,
    Ballast,
    Variant,
    sample_step,
    variants,
    with_ballast,
    with_list,
)
from passage.planning.voyage.events import refuse_unlike_events
from passage.planning.voyage.prepare import Passage, forecast_names, prepare, route_ends
from passage.units import HOUR_S, knots_to_m_s, utc_text

Array = npt.NDArray[np.float64]
#: Memory that the data of one block may take. [MB]
DEFAULT_BLOCK_MB = 200.0

#: Raised when a block holds other arrays, or the same with another meaning: blocks of before
#: would be read as if what they lack were nought.
BLOCKS = 2


@dataclass(frozen=True)
class SeasonFiles:
    """Files of a season, as text so that they can be sent to workers."""

    routes: tuple[str, ...]
    vessel: str
    forecasts: tuple[str, ...]
    name_map: str | None = None


@dataclass(frozen=True)
class SeasonOptions:
    """The user's choices, in the units of the command line.

    ``speeds_kn`` empty: each route's own speed. ``block_mb`` is the memory for the data of
    one block. ``lists_deg`` are standing lists whose remedies are priced, ``ballast`` a
    weight carried against them.
    """

    from_s: float
    to_s: float
    every_h: float = 6.0
    speeds_kn: tuple[float, ...] = ()
    heel: str = "fins"
    wave_method: str = "all-heading"
    minutes: float = 20.0
    block_mb: float = DEFAULT_BLOCK_MB
    exact: bool = False
    lists_deg: tuple[float, ...] = ()
    ballast: Ballast | None = None
    harbour_nm: float | None = None
    harbour_sea: str = "sheltered"

    @property
    def directly(self) -> bool:
        """Whether every departure is computed as in a plan: asked for, or without tables.

        The tables have only the all-heading formula for added resistance.
        """
        return self.exact or self.wave_method != "all-heading"


@dataclass(frozen=True)
class Setup:
    """All input except the hindcast: one passage for each route and speed.

    ``content`` is the digest of the files it was read from.
    """

    files: SeasonFiles
    options: SeasonOptions
    passages: tuple[Passage, ...]
    departures_s: Array = field(repr=False)
    content: str = ""

    @property
    def labels(self) -> list[dict[str, Any]]:
        """Route name and speed of each passage."""
        return [{"route": p.route.name, "speed_kn": p.speed_kn} for p in self.passages]

    @property
    def ways(self) -> tuple[Variant, ...]:
        """Ways of living with a standing list that are computed."""
        vessel, options = self.passages[0].vessel, self.options
        limit_deg = vessel.limits.underway.steady_heel_deg
        moves = vessel.transfer is not None and limit_deg is not None
        left_deg = [share * (limit_deg or 0.0) for share in LEFT_SHARES] if moves else []
        return variants(
            options.lists_deg,
            options.ballast,
            limited=limit_deg is not None,
            left_deg=left_deg,
        )

    @property
    def sample_step(self) -> int:
        """Step between the departures that are computed in those ways."""
        return sample_step(self.departures_s.size, len(self.ways), self.options.every_h)

    @property
    def speeds_m_s(self) -> tuple[float, ...]:
        """Speeds through the water that the passages run at; 0 where one stays."""
        found = [track_speeds_m_s(p.track) for p in self.passages]
        return tuple(float(v) for v in np.unique(np.round(np.concatenate(found), 9)))

    @property
    def points(self) -> int:
        """Points of the whole run."""
        return self.departures_s.size * sum(len(p.track) for p in self.passages)


#: More rows than this come from a mistyped window and would take gigabytes: 57 years at a
#: quarter of an hour are two million.
MOST_DEPARTURES = 2_000_000


def departure_times(from_s: float, to_s: float, every_h: float) -> Array:
    """Departures from ``from_s``, every so many hours, up to ``to_s``. [s]"""
    step = every_h * HOUR_S
    count = int(np.floor((to_s - from_s) / step + 1e-9)) + 1
    if count > MOST_DEPARTURES:
        raise PassageError(
            f"{utc_text(from_s)} to {utc_text(to_s)} every {every_h:g} h is {count} departures, "
            f"more than {MOST_DEPARTURES}. Give a longer --every or fewer years."
        )
    if count < 1:
        raise PassageError(
            f"--from {utc_text(from_s)} is after --to "
            f"{utc_text(60.0 * np.floor(to_s / 60.0))}. Swap them."
        )
    return np.asarray(from_s + step * np.arange(count), dtype=float)


def setup(files: SeasonFiles, options: SeasonOptions) -> Setup:
    """Read vessel and routes; kept for the next block as long as the files do not change."""
    return _setup(files, options, content_of(files))


def forget_setup() -> None:
    """Make the next call of :func:`setup` read vessel and routes again."""
    _setup.cache_clear()


def content_of(files: SeasonFiles) -> str:
    """Digest of the small files: vessel, routes and the map of names."""
    digest = hashlib.sha256()
    for path in (files.vessel, *files.routes, *([files.name_map] if files.name_map else ())):
        try:
            text = named_part(Path(path))[0].read_bytes()
        except OSError:  # its reader gives the message
            text = b""
        digest.update(f"{len(text)};".encode())
        digest.update(text)
    return digest.hexdigest()


@lru_cache(maxsize=2)
def _setup(files: SeasonFiles, options: SeasonOptions, content: str) -> Setup:
    times = departure_times(options.from_s, options.to_s, options.every_h)
    rows = times.size * len(files.routes) * max(len(options.speeds_kn), 1)
    if rows > MOST_DEPARTURES:
        raise PassageError(
            f"{times.size} departures of {rows // times.size} routes and speeds are {rows} "
            f"passages, more than {MOST_DEPARTURES}. Give a longer --every, fewer years, or "
            "run routes and speeds one by one."
        )
    vessel = read_vessel(Path(files.vessel))
    if options.ballast is not None:
        heavier = with_ballast(with_list(vessel, 0.0), options.ballast)
        if not heavier.particulars.gm_m > 0.0:
            raise PassageError(
                f"{options.ballast.weight_t:g} t at {options.ballast.z_m:g} m above the waterline "
                "leaves no GM. Give a lower place or less weight."
            )
        half_m = 0.5 * vessel.particulars.beam_waterline_m
        if abs(options.ballast.y_m) > half_m:
            raise PassageError(
                f"ballast {abs(options.ballast.y_m):g} m from the centreline is outside the hull: "
                f"half her beam is {half_m:g} m (vessel.beam_waterline_m). Give the distance of "
                "its centre in metres, + to starboard."
            )
    passages = []
    routes = [read_route(Path(path)) for path in files.routes]
    refuse_unlike_events(vessel, routes)
    for route in routes:
        for speed in options.speeds_kn or (None,):
            choice = PlanOptions(options.from_s, speed_kn=speed, minutes=options.minutes)
            # Tables are kept in the folder of the run, made with one thread for exact repetition.
            passages.append(prepare(vessel, route, choice, keep_tables=False, slow=True))
    # One vessel: her tables serve every passage.
    yacht = passages[0].yacht
    if any(passage.yacht.curve.idle_l_per_h is not None for passage in passages):
        yacht.allow_slow()
    for passage in passages:
        yacht.pin(*np.unique(knots_to_m_s(passage.track.speed_kn)))
    passages = [replace(passage, yacht=yacht) for passage in passages]
    names = [p.route.name for p in passages]
    if len(set(zip(names, (p.speed_kn for p in passages), strict=True))) < len(passages):
        # Two files may have routes of the same name; the file's name is added.
        passages = [
            replace(p, route=replace(p.route, name=f"{p.route.name} ({Path(p.route.path).name})"))
            for p in passages
        ]
    return Setup(files, options, tuple(passages), times, content)


def open_data(made: Setup) -> Forecast:
    """Open the hindcast without reading any field."""
    name_map = made.files.name_map
    names = forecast_names(made.passages[0].vessel, Path(name_map) if name_map else None)
    sea = open_hindcast([Path(p) for p in made.files.forecasts], names)
    return sea.with_harbour(harbour_of(made))


def own_range(made: Setup) -> str:
    """Sentence on waves along the first passage that their file does not call valid; else empty."""
    track = made.passages[0].track
    with open_data(made) as forecast:
        first, last = forecast.time_from_s, forecast.time_to_s
        inside = made.departures_s[(made.departures_s >= first) & (made.departures_s <= last)]
        forecast.sample(track.lat_deg, track.lon_deg, float(inside[0]) if inside.size else first)
        return forecast.own_range


def harbour_of(made: Setup) -> Harbour | None:
    """The rule for the ends of the routes, where one is asked for.

    Raises
    ------
    PassageError
        The nearest sea cell is asked for without ``exact``: the fast computation reads only
        the cells along the tracks.
    """
    options = made.options
    if not options.harbour_nm:
        return None
    if options.harbour_sea != "sheltered" and not options.directly:
        raise PassageError(
            "--harbour-sea nearest: a season takes the nearest sea cell with --exact only. "
            "Give --harbour-sea sheltered, or --exact."
        )
    ends = route_ends([p.route for p in made.passages])
    return Harbour(options.harbour_nm, options.harbour_sea, ends)


def longest_s(made: Setup) -> float:
    """Generous length of the longest passage. [s]"""
    return max(passage_seconds(p.track) for p in made.passages)


def describe(made: Setup, forecast: Forecast) -> dict[str, Any]:
    """Description of the run for its manifest; any change makes it another run."""
    return {
        "made_by": f"passage {__version__}",
        "blocks": BLOCKS,
        "vessel": made.passages[0].vessel.sha256,
        "routes": [
            {"name": p.route.name, "speed_kn": p.speed_kn, "track": _track_digest(p)}
            for p in made.passages
        ],
        "forecasts": [{"file": s.file, "sha256": s.sha256} for s in forecast.sources],
        "names": made.files.name_map and Path(made.files.name_map).read_text(encoding="utf-8"),
        "options": asdict(made.options),
    }


def _track_digest(passage: Passage) -> str:
    track = passage.track
    digest = hashlib.sha256()
    for name in ("leg", "lat_deg", "lon_deg", "length_m", "stay_s", "speed_kn"):
        digest.update(np.ascontiguousarray(getattr(track, name)).tobytes())
    return digest.hexdigest()[:16]
