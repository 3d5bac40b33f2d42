"""Which wave systems a forecast gives, and how a sea is made up from them."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass, replace

from passage.inputs.forecast.names import PERIOD_KINDS, PERIOD_WORDS, SWELLS
from passage.physics.waves.spectrum import COS2_WIDTH_RAD, SWELL_WIDTH_RAD, PeriodKind

#: Our kinds of period in the words of ``physics.spectrum``.
RATIO_KINDS: dict[str, PeriodKind] = {
    "peak": "peak",
    "energy": "energy",
    "Tm01": "mean",
    "Tm02": "zero-crossing",
    "mean": "mean",
}


@dataclass(frozen=True)
class System:
    """One wave system and the names of the variables that describe it."""

    name: str
    height: str
    period: str
    period_kind: str
    direction: str
    to: bool
    spread: str = ""

    @property
    def words(self) -> str:
        """Name for the reader."""
        return "rest of the sea" if self.name == "rest" else self.name.replace("_", " ")

    @property
    def is_swell(self) -> bool:
        """Whether its shape is that of swell; else it goes by its steepness."""
        return self.name.startswith("swell")


@dataclass(frozen=True)
class WavePlan:
    """How the waves of a forecast will be read.

    ``total`` names the variable of the total height, or is empty. ``whole`` is the
    total as a system, where it has a period and a direction beside partitions: what the
    partitions leave of it is then a system of its own, last of ``systems``, called
    ``rest_name``. ``whole_mean`` is the variable and the kind of the total's mean
    period, from which the period of that rest can be found.
    """

    given: tuple[System, ...]
    total: str = ""
    whole: System | None = None
    rest_name: str = "rest"
    whole_mean: tuple[str, str] | None = None
    notes: tuple[str, ...] = ()

    @property
    def systems(self) -> tuple[System, ...]:
        """Those the files give, and the rest of the total where there can be one."""
        if self.whole is None:
            return self.given
        return (*self.given, System(self.rest_name, "", "", "peak", "", to=False))

    @property
    def has_spread(self) -> bool:
        """Whether any system has its own spread."""
        return any(s.spread for s in self.given)

    @property
    def fields_per_system(self) -> int:
        """Fields stored for one system."""
        return 6 if self.has_spread else 5

    @property
    def n_fields(self) -> int:
        """Fields stored for a cell."""
        return 2 + self.fields_per_system * len(self.systems)

    @property
    def variables(self) -> list[str]:
        """Our names of everything that must be read."""
        wanted = [self.total] if self.total else []
        for s in (*self.given, *([self.whole] if self.whole else [])):
            wanted += [s.height, s.period, s.direction, *([s.spread] if s.spread else [])]
        if self.whole_mean:
            wanted.append(self.whole_mean[0])
        return list(dict.fromkeys(wanted))


def describe_system(system: str, names: Collection[str]) -> System | str:
    """The system when height, period and direction are there, else what is missing."""
    if f"{system}_height" not in names:
        return "height"
    period = kind = ""
    for k in PERIOD_KINDS:
        if f"{system}_{k}_period" in names:
            period, kind = f"{system}_{k}_period", k
            break
        if k == "peak" and f"{system}_peak_frequency" in names:
            period, kind = f"{system}_peak_frequency", k
            break
    if not period:
        return "period"
    for k in ("from", "to", "peak_from", "peak_to"):
        direction = f"{system}_{k}_direction"
        if direction in names:
            spread = f"{system}_spread" if f"{system}_spread" in names else ""
            to = k.endswith("to")
            return System(system, f"{system}_height", period, kind, direction, to, spread)
    return "direction"


def plan_waves(names: Collection[str]) -> WavePlan | str:
    """Choose the systems: partitions when they are complete, else the total.

    Returns
    -------
    WavePlan or str
        The plan, or what is missing, in words.
    """
    found = {s: describe_system(s, names) for s in ("total", "wind_sea", "swell", *SWELLS)}
    total, wind_sea = found["total"], found["wind_sea"]
    notes: list[str] = []
    swells = [s for n in SWELLS if isinstance(s := found[n], System)]
    if not swells and isinstance(found["swell"], System):
        swells = [found["swell"]]
    for name, missing in found.items():
        if isinstance(missing, str) and missing != "height":
            word = name.replace("_", " ")
            notes.append(f"{word}: height is given without a {missing}; not used")
    have_total = "total_height" if "total_height" in names else ""
    parts = tuple(s for s in (wind_sea, *swells) if isinstance(s, System))
    both = isinstance(wind_sea, System) and bool(swells)
    if parts:
        missing = "swell" if isinstance(wind_sea, System) else "wind sea"
        if isinstance(total, System) and not both:
            notes.append(
                f"no {missing} is given: what the {parts[0].words} leaves of the total is taken "
                f"as one {missing}"
            )
        elif not both:
            notes.append(f"no {missing} is given and no usable total: the sea is more")
        if not have_total:
            notes.append("no total height is given: it is the sum of the systems, and "
                         "a system that is missing looks the same as a calm one")  # fmt: skip
        if isinstance(total, System):
            rest = "rest" if both else missing.replace(" ", "_")
            plan = WavePlan(parts, have_total, total, rest, _mean_period(names))
        else:
            plan = WavePlan(parts, have_total)
    elif isinstance(total, System):
        notes.append("no partitions (wind sea, swell): the total sea is one system")
        plan = WavePlan((total,), have_total)
    else:
        return str(total)
    return replace(plan, notes=(*notes, *_period_notes(plan.given)))


def _mean_period(names: Collection[str]) -> tuple[str, str] | None:
    """Variable and kind of the best mean period of the total."""
    for kind in PERIOD_KINDS:
        if kind != "peak" and f"total_{kind}_period" in names:
            return f"total_{kind}_period", kind
    return None


def _period_notes(systems: tuple[System, ...]) -> list[str]:
    notes = []
    for kind in PERIOD_KINDS[1:]:
        names = [s.words for s in systems if s.period_kind == kind]
        if names:
            extra = ", taken as Tm01" if kind == "mean" else ""
            notes.append(
                f"peak period of {', '.join(names)} is derived from the "
                f"{PERIOD_WORDS[kind]}{extra}, through the ratio of the spectrum assumed"
            )
    by_peak = [s.words for s in systems if "_peak_" in s.direction]
    if by_peak:
        notes.append(f"direction of {', '.join(by_peak)} is that at the spectral peak")
    return notes


def usual_spread(system: str) -> float:
    """Circular width of a system whose file gives none [rad]."""
    return SWELL_WIDTH_RAD if system.startswith("swell") else COS2_WIDTH_RAD
