"""From recognised files to groups of fields: which file gives what, and what clashes."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path

import numpy as np

from passage.errors import ForecastError, Problem, UnknownConvention, join_problems
from passage.inputs.forecast.conditions import Floats
from passage.inputs.forecast.fields import LoadCounts, build_fields
from passage.inputs.forecast.group import Group, Singles
from passage.inputs.forecast.piece import Piece, Recognised
from passage.inputs.forecast.sampler import Alike
from passage.inputs.forecast.series import Series, join_in_time
from passage.inputs.forecast.spectra import SpectrumAxes, build_spectrum, read_axes
from passage.inputs.forecast.waves import WavePlan, plan_waves
from passage.units import HOUR_S, utc_text


@dataclass(eq=False)
class Joined:
    """The groups of a forecast, and notes on how they were joined."""

    groups: dict[str, Group] = field(default_factory=dict)
    plan: WavePlan | None = None
    counts: LoadCounts = field(default_factory=LoadCounts)
    spectrum_axes: SpectrumAxes | None = None
    notes: list[str] = field(default_factory=list)
    #: Hours that are too far apart to be bridged, in words.
    gaps: list[str] = field(default_factory=list)


def join(files: list[Recognised], hold_s: float = 0.0) -> Joined:
    """Join recognised files into groups of fields.

    Raises
    ------
    ForecastError
        Everything found wrong in the files, or in how they fit together.
    """
    problems = [p for f in files for p in f.problems]
    if problems:
        unknown = any(f.unknown_convention for f in files)
        kind = UnknownConvention if unknown else ForecastError
        raise kind(join_problems(problems))
    result = Joined()
    pieces = [p for f in files for p in f.pieces]
    by_group: dict[str, list[Piece]] = {}
    for piece in pieces:
        by_group.setdefault(piece.meaning.group, []).append(piece)
    names = ", ".join(f.file.path.name for f in files)
    _join_waves(by_group.get("waves", []), result, names, hold_s)
    _join_spectrum(by_group.get("spectrum", []), result, hold_s)
    if result.plan is None and "spectrum" not in result.groups:
        raise ForecastError(str(_no_waves(files, by_group)))
    for name in ("wind", "current"):
        _join_flow(name, by_group.get(name, []), result, hold_s)
    _join_depth(by_group.get("depth", []), result)
    _refuse_unused(files, result)
    _check_hours(result)
    _note_gaps(result)
    _note_runs(files, result)
    return result


def _no_waves(files: list[Recognised], found: Mapping[str, list[Piece]]) -> Problem:
    have = [g for g in ("wind", "current", "depth") if found.get(g)]
    words = {"depth": "sea-floor depth or elevation"}
    what = "holds no waves that can be used"
    lacking = _lacking({p.meaning.name for p in found.get("waves", ())})
    if lacking:
        what = f"gives a wave height without {lacking}, which is not enough"
    if have and not lacking:
        what += f", only {', '.join(words.get(g, g) for g in have)}"
    unused = [n for f in files for n, _ in f.unused]
    if unused:
        what += f" (not recognised or not used: {', '.join(unused[:8])})"
    return Problem(
        file=", ".join(f.file.name for f in files),
        what=what,
        fix="Add a wave file, or map its variables with --map; `passage check` shows "
        "what was recognised.",
    )


def _lacking(names: set[str]) -> str:
    """What a sea with a height still lacks: "a period and a direction"."""
    if not any(name.endswith("_height") for name in names):
        return ""
    wanted = (("a period", ("_period", "_frequency")), ("a direction", ("_direction",)))
    return " and ".join(
        word for word, ends in wanted if not any(name.endswith(ends) for name in names)
    )


def _refuse_unused(files: list[Recognised], result: Joined) -> None:
    """Refuse a file of which nothing is used; only note it where its variables are known."""
    used = {p.file for g in result.groups.values() for s in g.series.values() for p in s.pieces}
    problems = []
    for found in files:
        name = found.file.name
        short = found.file.path.name
        if name in used or any(f"that of {short} is not" in note for note in result.notes):
            continue
        shown = [p.variable for p in found.pieces] + [n for n, _ in found.unused]
        listed = ", ".join(dict.fromkeys(shown[:8])) or "none on a grid"
        if found.pieces:
            result.notes.append(f"{short}: nothing of this file is used (variables: {listed})")
            continue
        problems.append(
            Problem(
                file=name,
                what=f"nothing of this file is used (variables: {listed})",
                fix="Map its variables with --map (`passage check` shows what was recognised), "
                "or leave the file out.",
            )
        )
    if problems:
        raise ForecastError(join_problems(problems))


def _series(pieces: list[Piece], notes: list[str]) -> dict[str, Series]:
    """One series per meaning; all problems at once.

    Of two variables of one file with one meaning, the one with a standard_name is used
    before one known by a short name only.
    """
    by_name: dict[str, list[Piece]] = {}
    for piece in pieces:
        by_name.setdefault(piece.meaning.name, []).append(piece)
    series: dict[str, Series] = {}
    messages: list[str] = []
    for name, group in by_name.items():
        kept = _one_per_file(group, notes)
        try:
            series[name] = join_in_time(kept[0].meaning, kept)
        except ForecastError as err:
            messages.append(str(err))
    if messages:
        raise ForecastError("\n".join(_distinct(messages)))
    return series


def _distinct(messages: list[str], most: int = 6) -> list[str]:
    shown = list(dict.fromkeys(messages))
    if len(shown) > most:
        more = len(shown) - most
        shown = [*shown[:most], f"... and {more} more of the same kind."]
    return shown


def _one_per_file(pieces: list[Piece], notes: list[str]) -> list[Piece]:
    ranked = {"your map": 0, "standard_name and short name": 1, "standard_name": 2}
    kept: dict[tuple[str, float], Piece] = {}
    for piece in sorted(pieces, key=lambda p: ranked.get(p.how, 3)):
        start = float(piece.times.time_s[0]) if piece.times is not None else 0.0
        first = kept.setdefault((piece.file, start), piece)
        if first is not piece:
            notes.append(
                f"{Path(piece.file).name}: {piece.variable} and {first.variable} are "
                f"both {piece.meaning.words}; {first.variable} is used"
            )
    return list(kept.values())


def _join_waves(pieces: list[Piece], result: Joined, names: str, hold_s: float) -> None:
    if not pieces:
        return
    available = {p.meaning.name for p in pieces}
    plan = plan_waves(available)
    if isinstance(plan, str):
        result.notes.append(f"waves: a height is given without a {plan}")
        return
    used = [p for p in pieces if p.meaning.name in plan.variables]
    result.plan = plan
    result.notes += plan.notes
    series = _series(used, result.notes)
    _check_one_grid(series, "waves")

    def build(raw: Mapping[str, Singles]) -> Singles:
        return build_fields(plan, raw, result.counts)

    result.groups["waves"] = _group("waves", series, build, plan.n_fields, hold_s, result)
    wind = [i for i, system in enumerate(plan.systems) if system.name == "wind_sea"]
    swells = [i for i, system in enumerate(plan.systems) if system.is_swell]
    width = plan.fields_per_system
    result.groups["waves"].alike = Alike(
        2 + width * np.array(wind + swells, dtype=np.int64), width, bool(wind)
    )


def _group(
    name: str,
    series: dict[str, Series],
    build: object,
    n_fields: int,
    hold_s: float,
    result: Joined,
    raw_per_cell: int = 1,
) -> Group:
    group = Group(name, series, build, n_fields, hold_s, raw_per_cell)  # type: ignore[arg-type]
    most = max(s.time_s.size for s in series.values())
    if most and group.time_s.size == 0:
        files = sorted({p.file for s in series.values() for p in s.pieces})
        what = f"the variables of {name} have no hour in common"
        fix = "Give files of the same hours."
        raise ForecastError(str(Problem(file=", ".join(files), what=what, fix=fix)))
    if group.time_s.size < most:
        result.notes.append(
            f"{name}: {most - group.time_s.size} of {most} hours are left out, because "
            "not every variable has them"
        )
    return group


def _check_one_grid(series: dict[str, Series], name: str) -> None:
    first, *others = series.values()
    for other in others:
        if not first.grid.same_as(other.grid):
            one, two = first.pieces[0], other.pieces[0]
            what = f"{two.meaning.words} has another grid than {one.meaning.words} of {one.file}"
            fix = f"Give all of the {name} on one grid."
            raise ForecastError(str(Problem(file=two.file, what=what, fix=fix)))
        if other.n_members != first.n_members:
            two = other.pieces[0]
            what = f"{two.meaning.words} has another number of members than the rest"
            raise ForecastError(str(Problem(file=two.file, what=what)))


def _join_flow(name: str, pieces: list[Piece], result: Joined, hold_s: float) -> None:
    """Wind or current, from components or from speed and direction."""
    if not pieces:
        result.notes.append(f"no {name} in the files")
        return
    pieces = _last_file_wins(name, pieces, result.notes)
    have = {p.meaning.name for p in pieces}
    components = [f"{name}_eastward", f"{name}_northward"]
    polar = [f"{name}_speed", f"{name}_from_direction"]
    polar_to = [f"{name}_speed", f"{name}_to_direction"]
    for wanted in (components, polar, polar_to):
        if set(wanted) <= have:
            break
    else:
        missing = " and ".join(sorted(have))
        result.notes.append(f"{name}: only {missing} is given; not used")
        return
    series = _series([p for p in pieces if p.meaning.name in wanted], result.notes)
    _check_one_grid(series, name)

    def build(raw: Mapping[str, Singles]) -> Singles:
        one, two = raw[wanted[0]], raw[wanted[1]]
        if wanted is components:
            east, north = one, two
        else:
            sign = np.float32(1.0 if wanted is polar_to else -1.0)
            east, north = sign * one * np.sin(two), sign * one * np.cos(two)
        return _linear([east, north])

    result.groups[name] = _group(name, series, build, 3, hold_s, result)


def _linear(values: list[Singles]) -> Singles:
    """Stack plain fields behind a mask field."""
    missing = ~np.logical_and.reduce([np.isfinite(v) for v in values])
    out = np.empty((*missing.shape, 1 + len(values)), np.float32)
    out[..., 0] = missing
    for i, value in enumerate(values, start=1):
        out[..., i] = np.where(missing, np.float32(0.0), value)
    return out


def _last_file_wins(name: str, pieces: list[Piece], notes: list[str]) -> list[Piece]:
    """Several sources of wind or current: the one given last, unless they join."""
    files = list(dict.fromkeys(p.file for p in pieces))
    if len(files) < 2:
        return pieces
    last = files[-1]
    chosen = [p for p in pieces if p.file == last]
    for file in reversed(files[:-1]):
        mine = [p for p in pieces if p.file == file]
        if {p.meaning.name for p in mine}.isdisjoint({p.meaning.name for p in chosen}):
            chosen += mine
            continue
        joins = mine[0].grid.same_as(chosen[0].grid) and not _overlap(mine, chosen)
        same_run = mine[0].grid.same_as(chosen[0].grid) and _overlap(mine, chosen)
        if joins or same_run:
            chosen += mine  # join_in_time refuses hours given twice
        else:
            notes.append(
                f"{name}: {Path(last).name} (given last) is used, that of {Path(file).name} is not"
            )
    return chosen


def _overlap(one: list[Piece], two: list[Piece]) -> bool:
    for a in one:
        for b in two:
            if a.meaning != b.meaning or a.times is None or b.times is None:
                continue
            ta, tb = a.times.time_s, b.times.time_s
            if ta[0] <= tb[-1] and tb[0] <= ta[-1]:
                return True
    return False


def _join_depth(pieces: list[Piece], result: Joined) -> None:
    if not pieces:
        return
    pieces = _last_file_wins("depth", pieces, result.notes)
    series = _series(pieces, result.notes)
    wanted = "depth_below_surface" if "depth_below_surface" in series else next(iter(series))
    sign = np.float32(1.0 if wanted == "depth_below_surface" else -1.0)

    def build(raw: Mapping[str, Singles]) -> Singles:
        depth = sign * raw[wanted]
        return _linear([np.where(depth > 0.0, depth, np.float32(np.nan))])

    group = Group("depth", {wanted: series[wanted]}, build, 2)
    result.groups["depth"] = group


def _join_spectrum(pieces: list[Piece], result: Joined, hold_s: float) -> None:
    if not pieces:
        return
    series = _series(pieces, result.notes)
    one = next(iter(series.values()))
    axes = read_axes(one.pieces)
    result.spectrum_axes = axes

    def build(raw: Mapping[str, Singles]) -> Singles:
        return build_spectrum(axes, next(iter(raw.values())))

    size = axes.omega_rad_s.size * axes.from_rad.size
    result.groups["spectrum"] = _group(
        "spectrum", {one.meaning.name: one}, build, 1 + size, hold_s, result, size
    )
    result.notes.append(
        f"full directional spectra are given ({axes.omega_rad_s.size} frequencies, "
        f"{axes.from_rad.size} directions) and used"
    )


def _check_hours(result: Joined) -> None:
    """Refuse wind or current without an hour in common with the waves: of another passage."""
    sea = result.groups.get("waves") or result.groups["spectrum"]
    for name in ("wind", "current", "spectrum"):
        group = result.groups.get(name)
        if group is None or group is sea:
            continue
        if _never_together(sea.time_s, group.time_s):
            files = sorted({p.file for s in group.series.values() for p in s.pieces})
            what = (
                f"{name} runs {_span_text(group.time_s)}, the waves "
                f"{_span_text(sea.time_s)}: they do not overlap"
            )
            fix = "Give files of the same days."
            raise ForecastError(str(Problem(file=", ".join(files), what=what, fix=fix)))


def _never_together(one: Floats, two: Floats) -> bool:
    return bool(one[-1] < two[0] or two[-1] < one[0])


def _span_text(time_s: Floats) -> str:
    return f"{utc_text(time_s[0])} to {utc_text(time_s[-1])}"


def _note_gaps(result: Joined) -> None:
    for name, group in result.groups.items():
        for i in np.flatnonzero(group.frame.gap):
            a, b = group.time_s[i], group.time_s[i + 1]
            result.gaps.append(
                f"{name}: nothing between {utc_text(a)} and {utc_text(b)}; not bridged"
            )
        if group.time_s.size == 1:
            hold = f" within {group.hold_s / HOUR_S:g} h" if group.hold_s else ""
            result.notes.append(
                f"{name}: a single time step, valid only at {utc_text(group.time_s[0])}{hold}"
            )
    result.notes += result.gaps


def _note_runs(files: list[Recognised], result: Joined) -> None:
    runs = {f.file.path.name: f.run_s for f in files if f.run_s is not None}
    if len(set(runs.values())) > 1:
        words = ", ".join(f"{name} {utc_text(run)}" for name, run in runs.items())
        result.notes.append(f"the files come from different runs: {words}")
