"""A forecast made of one or several files, sampled at points in place and time."""

from __future__ import annotations

import copy
from dataclasses import dataclass
from types import TracebackType
from typing import Any

import numpy as np
import numpy.typing as npt

from passage.errors import plain_text
from passage.inputs.forecast.conditions import (
    MASKED,
    NEAREST,
    OK,
    SHELTERED,
    Codes,
    Conditions,
    DirectionalSpectrum,
    Floats,
)
from passage.inputs.forecast.damage import left_out_words, missing_component
from passage.inputs.forecast.group import Group
from passage.inputs.forecast.harbour import Harbour
from passage.inputs.forecast.holding_words import NO_MEAN, holding_words, share
from passage.inputs.forecast.join import Joined
from passage.inputs.forecast.members import Members
from passage.inputs.forecast.nearest import nearest_sea
from passage.inputs.forecast.opener import sha256_of
from passage.inputs.forecast.piece import Recognised
from passage.inputs.forecast.spectra import summary
from passage.inputs.forecast.systems import PointWaves, decode_waves, total_waves
from passage.inputs.forecast.waves import WavePlan
from passage.physics.waves.seas import PERIOD_RANGE_S
from passage.units import utc_text


@dataclass(frozen=True)
class Source:
    """Where numbers came from. ``hashed`` says how much of the file the hash covers."""

    file: str
    sha256: str
    hashed: str
    producer: str
    run_utc: str | None
    first_utc: str
    last_utc: str
    gives: tuple[str, ...]


#: Directions all below a full circle in radians, though called degrees, are suspect
#: when there are this many sea cells.
_SUSPECT_RAD = float(np.radians(6.3))
_SUSPECT_CELLS = 200


class Forecast:
    """Sampled by :meth:`sample`; made by :func:`open_forecast`; a context manager."""

    def __init__(
        self,
        files: list[Recognised],
        joined: Joined,
        nearest_sea_cell_km: float | None = None,
        members: Members | None = None,
    ) -> None:
        self.members = members
        self._files = files
        self._joined = joined
        self._nearest_km = nearest_sea_cell_km
        self._sources: tuple[Source, ...] | None = None
        self._harbour: Harbour | None = None
        self._in_harbour = False
        self._replaced = False
        #: Whether all that will be sampled was read, and its values checked, at opening.
        self.fully_read = True
        sea = joined.groups.get("waves") or joined.groups["spectrum"]
        self.time_from_s = float(sea.time_s[0])
        self.time_to_s = float(sea.time_s[-1])
        self.n_members = max(g.n_members for g in joined.groups.values())
        plan = joined.plan
        names = ("total",) if plan is None else tuple(s.words for s in plan.systems)
        self.system_names: tuple[str, ...] = names

    def __enter__(self) -> Forecast:
        """Itself."""
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        value: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        """Close the files."""
        self.close()

    def close(self) -> None:
        """Close the files and free the memory."""
        for group in self._joined.groups.values():
            group.close()
        for file in self._files:
            file.file.close()

    def with_harbour(self, harbour: Harbour | None) -> Forecast:
        """The same forecast with a rule for the ends of a route; files are shared."""
        if harbour is None:
            return self
        other = copy.copy(self)
        other._harbour, other._in_harbour, other._replaced = harbour, False, False
        return other

    @property
    def files(self) -> tuple[Recognised, ...]:
        """What was recognised in each file."""
        return tuple(self._files)

    @property
    def groups(self) -> dict[str, Group]:
        """Groups of fields by name ("waves", "wind", ...), for reading in bulk."""
        return self._joined.groups

    @property
    def wave_plan(self) -> WavePlan | None:
        """How the waves are read; None when there are only full spectra."""
        return self._joined.plan

    @property
    def has_wind(self) -> bool:
        """Whether any file gives wind."""
        return "wind" in self._joined.groups

    @property
    def has_current(self) -> bool:
        """Whether any file gives a current."""
        return "current" in self._joined.groups

    @property
    def gaps(self) -> tuple[str, ...]:
        """Hours too far apart to be bridged, in words; empty where there are none."""
        return tuple(plain_text(text) for text in self._joined.gaps)

    @property
    def period_doubt(self) -> str:
        """The note on a rest of the sea whose period no file gives; else empty."""
        notes = holding_words(self._joined.counts, self._joined.plan)
        return next((plain_text(note) for note in notes if NO_MEAN in note), "")

    @property
    def own_range(self) -> str:
        """Sentence on waves read so far that lie outside their file's own range; else empty."""
        groups = [g for name, g in self._joined.groups.items() if name in ("waves", "spectrum")]
        words = [text for group in groups for text in left_out_words(group.left_out)]
        return f"{plain_text('; '.join(words))}." if words else ""

    @property
    def used(self) -> dict[str, tuple[str, ...]]:
        """Variables of the files that each group of fields is made from."""
        return {
            name: tuple(dict.fromkeys(p.variable for s in group.series.values() for p in s.pieces))
            for name, group in self._joined.groups.items()
        }

    @property
    def sources(self) -> tuple[Source, ...]:
        """Provenance of every file; hashed on first use."""
        if self._sources is None:
            self._sources = tuple(_source(f) for f in self._files)
        return self._sources

    @property
    def notes(self) -> tuple[str, ...]:
        """Notes for the plan; some are known only after sampling."""
        notes = [*(n for f in self._files for n in f.notes), *self._joined.notes]
        notes += [self.members.note] if self.members is not None else []
        counts = self._joined.counts
        notes += holding_words(counts, self._joined.plan)
        for group in self._joined.groups.values():
            notes += [words for series in group.series.values() for words in series.doubts]
            notes += missing_component(list(group.series.values()))
            notes += left_out_words(group.left_out)
        if counts.incomplete_cells:
            notes.append(
                f"{share(counts.incomplete_cells, counts.sea_cells)} of the sea cells "
                "have a height without period or direction; they count as masked"
            )
        if counts.out_of_range_cells:
            low, high = PERIOD_RANGE_S
            notes.append(
                f"{share(counts.out_of_range_cells, counts.sea_cells)} of the sea cells have waves "
                f"of a peak period outside {low:g} to {high:g} s, for which nothing is computed; "
                "they count as masked"
            )
        if counts.too_steep_cells:
            notes.append(
                f"{share(counts.too_steep_cells, counts.sea_cells)} of the sea cells have "
                "waves steeper than any sea for their period; they count as masked. Is the "
                "period a frequency in Hz, or its unit wrong?"
            )
        for system, largest in counts.largest_direction_rad.items():
            if counts.sea_cells >= _SUSPECT_CELLS and largest < _SUSPECT_RAD:
                notes.append(
                    f"every direction of the {system} lies between 0 and 6.3 degrees: "
                    "are they radians, with the wrong unit?"
                )
        if self._in_harbour and self._harbour is not None:
            notes.append(self._harbour.words())
        if self._replaced:
            notes.append(
                "where the forecast has no sea, the nearest sea cell within "
                f"{self._nearest_km:g} km is taken, as asked"
            )
        return tuple(dict.fromkeys(plain_text(note) for note in notes))

    def sample(
        self,
        lat_deg: npt.ArrayLike,
        lon_deg: npt.ArrayLike,
        time_s: npt.ArrayLike,
        member: npt.ArrayLike = 0,
    ) -> Conditions:
        """Sea, wind, current and depth at points.

        Parameters
        ----------
        lat_deg, lon_deg : array_like
            Positions, any longitude convention. [deg]
        time_s : array_like
            Seconds since 1970-01-01T00:00Z. [s]
        member : array_like of int
            Ensemble member, from 0, in the order of `members`: 0 speaks for all.

        Returns
        -------
        Conditions
            Arrays over the broadcast shape of the arguments; NaN with a coverage code
            where there is no data. Nothing is extrapolated or filled.

        Raises
        ------
        ForecastError
            A part of the file that is read now is damaged or holds impossible values.
        IndexError
            No such member.
        """
        lat, lon, time, members = np.broadcast_arrays(
            np.asarray(lat_deg, float), np.asarray(lon_deg, float),
            np.asarray(time_s, float), np.asarray(member, int),
        )  # fmt: skip
        shape = lat.shape
        if members.size and not 0 <= members.min() <= members.max() < self.n_members:
            raise IndexError(f"member must be 0 to {self.n_members - 1}")
        lat, lon, time = (np.ascontiguousarray(a).reshape(-1) for a in (lat, lon, time))
        which = np.ascontiguousarray(members).reshape(-1)
        waves, spectrum, coverage = self._waves(lat, lon, time, which)
        wind, wind_code = self._plain("wind", 2, lat, lon, time, which)
        current, current_code = self._plain("current", 2, lat, lon, time, which)
        depth, _ = self._plain("depth", 1, lat, lon, time, which)

        def shaped(values: Any, *tail: int) -> Any:
            return values.reshape(shape + tail)

        n = len(self.system_names)
        full = None
        if spectrum is not None:
            axes = self._joined.spectrum_axes
            assert axes is not None
            size = (axes.omega_rad_s.size, axes.from_rad.size)
            density = shaped(spectrum, *size)
            full = DirectionalSpectrum(density, axes.omega_rad_s, axes.from_rad)
        return Conditions(
            height_m=shaped(waves.height_m, n),
            peak_period_s=shaped(waves.peak_period_s, n),
            from_rad=shaped(waves.from_rad, n),
            gamma=shaped(waves.gamma, n),
            spread_rad=shaped(waves.spread_rad, n),
            system_names=self.system_names,
            total_height_m=shaped(waves.total_height_m),
            wind_u_m_s=shaped(wind[:, 0]),
            wind_v_m_s=shaped(wind[:, 1]),
            current_u_m_s=shaped(current[:, 0]),
            current_v_m_s=shaped(current[:, 1]),
            depth_m=shaped(depth[:, 0]),
            coverage=shaped(coverage),
            wind_coverage=shaped(wind_code),
            current_coverage=shaped(current_code),
            spectrum=full,
        )

    def _fields(
        self, name: str, lat: Floats, lon: Floats, time: Floats, member: Any
    ) -> tuple[npt.NDArray[np.float32], Codes]:
        group = self._joined.groups[name]
        if group.n_members == 1 or lat.size == 0 or member.min() == member.max():
            return group.sample(lat, lon, time, int(member[0]) if lat.size else 0)
        fields = np.empty((lat.size, group.n_fields), np.float32)
        code = np.empty(lat.size, np.int8)
        for one in np.unique(member):
            at = np.flatnonzero(member == one)
            fields[at], code[at] = group.sample(lat[at], lon[at], time[at], int(one))
        return fields, code

    def _plain(
        self, name: str, n: int, lat: Floats, lon: Floats, time: Floats, member: Any
    ) -> tuple[Floats, Codes]:
        if name not in self._joined.groups:
            return np.full((lat.size, n), np.nan), np.full(lat.size, MASKED, np.int8)
        fields, code = self._fields(name, lat, lon, time, member)
        values = fields[:, 1:].astype(float)
        values[code != OK] = np.nan
        return values, code

    def _waves(
        self, lat: Floats, lon: Floats, time: Floats, member: Any
    ) -> tuple[PointWaves, Floats | None, Codes]:
        name = "waves" if self._joined.plan is not None else "spectrum"
        fields, code = self._fields(name, lat, lon, time, member)
        near = self._near_an_end(code, lat, lon)
        for asked, reach_km in (
            (near, None if self._harbour is None else self._harbour.reach_km),
            (~near, self._nearest_km),
        ):
            masked = asked & (code == MASKED)
            if not reach_km or not masked.any():
                continue
            if asked is near:
                self._in_harbour = True
                if self._harbour is not None and self._harbour.sea == "sheltered":
                    fields[masked], code[masked] = 0.0, SHELTERED
                    continue
            lat, lon = lat.copy(), lon.copy()
            for at, new_lat, new_lon in self._moved(name, masked, lat, lon, time, member, reach_km):
                lat[at], lon[at] = new_lat, new_lon
                fields[at], again = self._fields(name, new_lat, new_lon, time[at], member[at])
                code[at] = np.where(again == OK, NEAREST, again)
                if asked is not near and np.any(again == OK):
                    self._replaced = True
        sheltered = code == SHELTERED
        known = (code == OK) | (code == NEAREST) | sheltered
        plan = self._joined.plan
        spectrum = None
        if "spectrum" in self._joined.groups:
            raw, at_code = fields, code
            if name != "spectrum":
                raw, at_code = self._fields("spectrum", lat, lon, time, member)
            spectrum = raw[:, 1:].astype(float)
            spectrum[~((at_code == OK) | (at_code == NEAREST))] = np.nan
            spectrum[sheltered] = 0.0
        if plan is not None:
            return decode_waves(plan, fields, known), spectrum, code
        axes = self._joined.spectrum_axes
        assert axes is not None
        assert spectrum is not None
        size = (-1, axes.omega_rad_s.size, axes.from_rad.size)
        return total_waves(*summary(axes, spectrum.reshape(size))), spectrum, code

    def _near_an_end(self, code: Codes, lat: Floats, lon: Floats) -> npt.NDArray[np.bool_]:
        """Masked points that the rule for harbours covers."""
        near = np.zeros(code.shape, bool)
        masked = np.flatnonzero(code == MASKED)
        if self._harbour is not None and masked.size:
            near[masked] = self._harbour.holds(lat[masked], lon[masked])
        return near

    def _moved(
        self,
        name: str,
        masked: npt.NDArray[np.bool_],
        lat: Floats,
        lon: Floats,
        time: Floats,
        member: Any,
        reach_km: float,
    ) -> Any:
        group = self._joined.groups[name]
        for one in np.unique(member[masked]):
            at = np.flatnonzero(masked & (member == one))
            found, new_lat, new_lon = nearest_sea(
                group, lat[at], lon[at], time[at], int(one), reach_km
            )
            if found.any():
                yield at[found], new_lat[found], new_lon[found]


def _source(found: Recognised) -> Source:
    digest, how = sha256_of(found.file.path)
    times = [t.time_s for t in found.times]
    return Source(
        file=plain_text(found.file.name),
        sha256=digest,
        hashed=how,
        producer=found.producer,
        run_utc=utc_text(found.run_s) if found.run_s is not None else None,
        first_utc=utc_text(min(t[0] for t in times)) if times else "",
        last_utc=utc_text(max(t[-1] for t in times)) if times else "",
        gives=tuple(dict.fromkeys(p.meaning.name for p in found.pieces)),
    )
