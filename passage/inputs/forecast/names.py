"""What forecast files call things: one table from their names to ours.

A *meaning* says which system a number belongs to, which quantity it is, and
which kind of it (peak or mean period, coming-from or going-to direction). Our
written form is ``<system>_<kind>_<quantity>`` with an empty kind left out, for
example ``total_height``, ``swell_1_peak_period``, ``wind_from_direction``.
"""

from __future__ import annotations

import re
from dataclasses import dataclass

#: Highest swell partition that is read; files number them from the highest waves.
MAX_SWELLS = 5
SWELLS = tuple(f"swell_{i}" for i in range(1, MAX_SWELLS + 1))
WAVE_SYSTEMS = ("total", "wind_sea", "swell", *SWELLS)

#: Kinds of period in order of preference; "mean" is one whose kind is not stated.
PERIOD_KINDS = ("peak", "energy", "Tm01", "Tm02", "mean")
PERIOD_WORDS = {
    "peak": "peak period Tp",
    "energy": "energy period Tm-10",
    "Tm01": "mean period Tm01",
    "Tm02": "zero-crossing period Tm02",
    "mean": "mean period, kind not stated",
}


@dataclass(frozen=True)
class Meaning:
    """What one variable of a file is."""

    system: str
    quantity: str
    kind: str = ""

    @property
    def name(self) -> str:
        """Our name, as written in a map file."""
        if self.quantity == "spectrum":
            return f"spectrum_{self.kind}"
        return "_".join(part for part in (self.system, self.kind, self.quantity) if part)

    @property
    def words(self) -> str:
        """The same for a reader."""
        system = self.system.replace("_", " ")
        if self.quantity == "spectrum":
            return f"directional spectrum, {self.convention}"
        if self.quantity == "period":
            return f"{system} {PERIOD_WORDS[self.kind]}"
        if self.quantity == "direction":
            peak = "peak " if self.kind.startswith("peak") else ""
            return f"{system} {peak}direction, {self.convention}"
        return " ".join(p for p in (system, self.kind, self.quantity) if p)

    @property
    def convention(self) -> str:
        """Direction convention in words, or nothing."""
        if self.quantity == "direction":
            return "going to" if self.kind.endswith("to") else "coming from"
        if self.quantity == "spectrum":
            return "going to" if self.kind == "to" else "coming from"
        return ""

    @property
    def jumps(self) -> bool:
        """Whether sound values jump between cells: of a peak, or of a numbered system."""
        return self.group == "waves" and (self.system != "total" or self.kind.startswith("peak"))

    @property
    def group(self) -> str:
        """Which group of fields it is sampled with."""
        return "waves" if self.system in WAVE_SYSTEMS else self.system


def _all_meanings() -> dict[str, Meaning]:
    found: list[Meaning] = []
    for system in WAVE_SYSTEMS:
        found += [Meaning(system, "height"), Meaning(system, "spread")]
        found += [Meaning(system, "period", kind) for kind in PERIOD_KINDS]
        found += [Meaning(system, "frequency", "peak")]
        kinds = ("from", "to", "peak_from", "peak_to")
        found += [Meaning(system, "direction", kind) for kind in kinds]
    for system in ("wind", "current"):
        found += [Meaning(system, q) for q in ("eastward", "northward", "speed")]
        found += [Meaning(system, "direction", kind) for kind in ("from", "to")]
    found += [Meaning("depth", q) for q in ("below_surface", "elevation")]
    found += [Meaning("spectrum", "spectrum", kind) for kind in ("from", "to")]
    return {m.name: m for m in found}


#: Every name that a map file may use.
MEANINGS: dict[str, Meaning] = _all_meanings()


def _standard_names() -> dict[str, Meaning]:
    table: dict[str, Meaning] = {}
    stem = "sea_surface_"
    parts = {"": "total", "wind_": "wind_sea", "swell_": "swell"}
    for i, word in enumerate(("primary", "secondary", "tertiary"), start=1):
        parts[f"{word}_swell_"] = f"swell_{i}"
    density = "variance_spectral_density"
    for prefix, system in parts.items():
        wave = f"{stem}{prefix}wave_"
        table[f"{wave}significant_height"] = Meaning(system, "height")
        table[f"{wave}directional_spread"] = Meaning(system, "spread")
        table[f"{wave}from_direction"] = Meaning(system, "direction", "from")
        table[f"{wave}to_direction"] = Meaning(system, "direction", "to")
        table[f"{wave}mean_period"] = Meaning(system, "period", "mean")
        table[f"{wave}period"] = Meaning(system, "period", "mean")
        table[f"{wave}zero_upcrossing_period"] = Meaning(system, "period", "Tm02")
        at_peak = f"at_{density}_maximum"
        table[f"{wave}period_{at_peak}"] = Meaning(system, "period", "peak")
        table[f"{wave}from_direction_{at_peak}"] = Meaning(system, "direction", "peak_from")
        table[f"{wave}to_direction_{at_peak}"] = Meaning(system, "direction", "peak_to")
        for moment, kind in (
            ("inverse_frequency_moment", "energy"),
            ("first_frequency_moment", "Tm01"),
            ("second_frequency_moment", "Tm02"),
        ):
            table[f"{wave}mean_period_from_{density}_{moment}"] = Meaning(system, "period", kind)
    # Older CF names, now aliases of the above.
    table["significant_height_of_wind_and_swell_waves"] = Meaning("total", "height")
    table["sea_surface_wave_zero_upcrossing_period"] = Meaning("total", "period", "Tm02")
    table["significant_height_of_wind_waves"] = Meaning("wind_sea", "height")
    table["significant_height_of_swell_waves"] = Meaning("swell", "height")
    table["wind_wave_period"] = Meaning("wind_sea", "period", "mean")
    table["swell_wave_period"] = Meaning("swell", "period", "mean")
    table["direction_of_wind_wave_velocity"] = Meaning("wind_sea", "direction", "to")
    table["direction_of_swell_wave_velocity"] = Meaning("swell", "direction", "to")
    # Not a CF name, but written by a much used wave model, which says from.
    table["sea_surface_wave_peak_direction"] = Meaning("total", "direction", "peak_from")
    for prefix in ("", "surface_"):
        for east, north in (("eastward", "northward"), ("x", "y")):
            table[f"{prefix}{east}_sea_water_velocity"] = Meaning("current", "eastward")
            table[f"{prefix}{north}_sea_water_velocity"] = Meaning("current", "northward")
            table[f"{prefix}{east}_wind"] = Meaning("wind", "eastward")
            table[f"{prefix}{north}_wind"] = Meaning("wind", "northward")
    table["wind_speed"] = Meaning("wind", "speed")
    table["wind_from_direction"] = Meaning("wind", "direction", "from")
    table["wind_to_direction"] = Meaning("wind", "direction", "to")
    table["sea_water_speed"] = Meaning("current", "speed")
    for name in ("direction_of_sea_water_velocity", "sea_water_velocity_to_direction"):
        table[name] = Meaning("current", "direction", "to")
    table["sea_water_velocity_from_direction"] = Meaning("current", "direction", "from")
    for name in ("depth_below_sea_surface", "depth_below_geoid", "depth_below_sea_level",
                 "depth_below_mean_sea_level", "depth"):  # fmt: skip
        table[f"sea_floor_{name}"] = Meaning("depth", "below_surface")
    for name in ("height_above_reference_ellipsoid", "surface_altitude",
                 "height_above_mean_sea_level", "height_above_geoid"):  # fmt: skip
        table[name] = Meaning("depth", "elevation")
    # The direction axis says from or to; recognise.py settles the kind.
    density = "sea_surface_wave_directional_variance_spectral_density"
    table[density] = Meaning("spectrum", "spectrum", "from")
    return table


STANDARD_NAMES: dict[str, Meaning] = _standard_names()


def _short_names() -> dict[str, Meaning]:
    table: dict[str, Meaning] = {}

    def put(system: str, quantity: str, kind: str, names: str) -> None:
        for name in names.split():
            table[name] = Meaning(system, quantity, kind)

    put("total", "height", "", "swh hs VHM0 HSIGN Hsig")
    put("wind_sea", "height", "", "shww phs0 VHM0_WW")
    put("swell", "height", "", "shts HSWELL")
    put("total", "period", "peak", "pp1d tp VTPK RTP TPS perpw")
    put("total", "frequency", "peak", "fp")
    put("total", "period", "energy", "mwp t0m1 VTM10 TMM10")
    put("total", "period", "Tm01", "mp1 t01 TM01")
    put("total", "period", "Tm02", "mp2 t02 VTM02 TM02")
    put("wind_sea", "period", "peak", "pp1dw ptp0")
    put("swell", "period", "peak", "pp1ds")
    put("wind_sea", "period", "energy", "mpww ptm10c0")
    put("swell", "period", "energy", "mpts")
    put("wind_sea", "period", "Tm01", "VTM01_WW pt01c0")
    put("wind_sea", "period", "Tm02", "pt02c0")
    put("total", "direction", "from", "mwd dir VMDR")
    put("total", "direction", "peak_from", "pwd dirpw dp VPED")
    put("wind_sea", "direction", "from", "mdww wvdir pdir0 VMDR_WW")
    put("wind_sea", "direction", "peak_from", "pdp0")
    put("swell", "direction", "from", "mdts swdir")
    put("total", "spread", "", "wdw spr DSPR")
    put("wind_sea", "spread", "", "dwww pspr0")
    put("swell", "spread", "", "dwps")
    for i, system in enumerate(SWELLS, start=1):
        put(system, "height", "", f"swh{i} phs{i} VHM0_SW{i}")
        put(system, "period", "peak", f"ptp{i} pp1d{i}")
        put(system, "period", "energy", f"mwp{i} ptm10c{i}")
        put(system, "period", "Tm01", f"VTM01_SW{i} pt01c{i}")
        put(system, "period", "Tm02", f"pt02c{i}")
        put(system, "direction", "from", f"mwd{i} pdir{i} VMDR_SW{i}")
        put(system, "direction", "peak_from", f"pdp{i}")
        put(system, "spread", "", f"pspr{i}")
    put("wind", "eastward", "", "u10 10u uwnd eastward_wind xwnd ugrd10m")
    put("wind", "northward", "", "v10 10v vwnd northward_wind ywnd vgrd10m")
    put("wind", "speed", "", "si10 10si wspd ws wind wind_speed")
    put("wind", "direction", "from", "wdir dwi")
    put("wind", "direction", "to", "wind_to_dir")
    put("current", "eastward", "", "uo utotal ucur sve ocu xcur u_sur")
    put("current", "northward", "", "vo vtotal vcur svn ocv ycur v_sur")
    put("current", "speed", "", "cspd spc")
    put("current", "direction", "to", "cdir dirc")
    put("depth", "below_surface", "", "dpt deptho wmb DEPTH depth")
    put("depth", "elevation", "", "elevation")
    put("spectrum", "spectrum", "to", "efth d2fd 2dfd")
    # Abbreviations of one centre's GRIB tables; its partitions' periods are peak ones.
    put("total", "height", "", "HTSGW")
    put("wind_sea", "height", "", "WVHGT")
    put("swell", "height", "", "SWELL")
    put("total", "period", "peak", "PERPW PWPER")
    put("total", "period", "energy", "MWSPER")
    put("total", "period", "Tm01", "IMWF")
    put("total", "period", "Tm02", "MZWPER")
    put("wind_sea", "period", "peak", "WVPER")
    put("swell", "period", "peak", "SWPER")
    put("total", "direction", "from", "WWSDIR")
    put("total", "direction", "peak_from", "DIRPW")
    put("wind_sea", "direction", "from", "WVDIR")
    put("swell", "direction", "from", "SWDIR")
    put("wind", "eastward", "", "UGRD")
    put("wind", "northward", "", "VGRD")
    put("wind", "speed", "", "WIND")
    put("wind", "direction", "from", "WDIR")
    put("current", "eastward", "", "UOGRD")
    put("current", "northward", "", "VOGRD")
    return table


SHORT_NAMES: dict[str, Meaning] = _short_names()

_WITH_LEVEL = re.compile(r"([A-Z]+)_(surface|meansealevel|10maboveground|([1-5])insequence)")


def known_short_name(name: str) -> Meaning | None:
    """Meaning of a short name, with or without the level that a converter appends.

    ``SWELL_2insequence`` is the height of the second swell partition.
    """
    meaning = SHORT_NAMES.get(name)
    match = _WITH_LEVEL.fullmatch(name)
    if meaning is not None or match is None:
        return meaning
    meaning = SHORT_NAMES.get(match[1])
    if meaning is not None and match[3]:
        if meaning.system != "swell":
            return None
        return Meaning(f"swell_{match[3]}", meaning.quantity, meaning.kind)
    return meaning


#: Short names that go before a wrong standard_name: one wave model writes the
#: moments of the whole sea with the standard_names of the wind sea.
SHORT_NAME_WINS = frozenset({"t02", "t01", "t0m1"})

#: Short names of one centre's wave files (GRIB centre kwbc) whose periods are peak
#: periods of the partitions although the name says mean. Seen in its files: where one
#: partition holds over 98 % of the energy its period equals the peak period of the
#: whole sea to 1 part in 1000.
PEAK_BY_CENTRE = {"kwbc": frozenset({"mpww", "mpts"})}

#: Known names whose direction convention the file must state elsewhere.
NEEDS_CONVENTION = frozenset({"DIR", "PDIR", "TDIR"})

#: Known variables that are not needed; not reported as unknown.
NOT_NEEDED: dict[str, str] = {
    **dict.fromkeys(("ust", "vst", "uuss", "vuss", "VSDX", "VSDY"), "Stokes drift"),
    **dict.fromkeys(("hmax", "tmax", "VCMX", "VMXL", "hmaxe", "stmaxe"),
                    "highest single wave"),
    **dict.fromkeys(("ice", "ci"), "sea ice (iced points must be masked in the waves)"),
    **dict.fromkeys(("MAPSTA", "mask", "lsm"), "status of grid points"),
    **dict.fromkeys(("crs", "spatial_ref", "grid_mapping"), "description of the grid"),
}  # fmt: skip

_LOOKS_LIKE_DIRECTION = re.compile(r"(dir(ection)?\b|dir$|^dir|mwd|pdir|theta)", re.I)
_LOOKS_LIKE_WAVES = re.compile(r"wave|swell|sea|mwd|^hs|period", re.I)


def looks_like_wave_direction(name: str, long_name: str, standard_name: str) -> bool:
    """Whether an unknown variable is probably a wave direction."""
    text = f"{name} {long_name} {standard_name}".replace("_", " ")
    if re.search(r"wind(?! ?(wave|sea))|current|velocity|spread", text, re.I):
        return False
    return bool(_LOOKS_LIKE_DIRECTION.search(text) and _LOOKS_LIKE_WAVES.search(text))
