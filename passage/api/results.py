"""Results of the questions: one class each, with the same forms of output.

``answer`` is what planning computed, with everything in it; the rest are forms of it.
"""

from __future__ import annotations

import tempfile
from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING, Any

from passage.api.options import PathLike

if TYPE_CHECKING:
    import pandas as pd
    import xarray as xr

    from passage.planning.compare.compare import Comparison
    from passage.planning.heel.heel import HeelAnswer
    from passage.planning.plan.result import PlannedPassage
    from passage.planning.season.season import SeasonResult as SeasonAnswer
    from passage.planning.suggest.files import Suggestion


class Result:
    """What every result offers."""

    def to_dict(self) -> dict[str, Any]:
        """The answer as dicts, lists, text, numbers and None, as in the JSON files."""
        raise NotImplementedError

    def to_dataframe(self) -> pd.DataFrame:
        """The answer as a frame; units are in the names of its columns."""
        raise NotImplementedError

    def to_dataset(self) -> xr.Dataset:
        """The answer as a labelled dataset with units, as in the NetCDF files."""
        raise NotImplementedError

    def page(self) -> str:
        """The page of :meth:`to_html` as text."""
        raise NotImplementedError

    def to_html(self, path: PathLike, *, force: bool = False) -> Path:
        """Write the page, one file that needs nothing else, and return its path.

        Raises
        ------
        PassageError
            The file exists (unless ``force``) or cannot be written.
        """
        from passage.files import write_text

        write_text(Path(path), self.page(), force=force)
        return Path(path)

    @property
    def notes(self) -> tuple[str, ...]:
        """Remarks: what was assumed, derived or missing."""
        return tuple(self.answer.notes)  # type: ignore[attr-defined]


def _dataset(write: Callable[[Any, Path], None], answer: Any) -> xr.Dataset:
    """A dataset read back from the file that a command would write."""
    import xarray as xr

    with tempfile.TemporaryDirectory(prefix="passage-") as folder:
        path = Path(folder) / "result.nc"
        write(answer, path)
        with xr.open_dataset(path, decode_timedelta=False) as data:
            return data.load()


def _frame(rows: list[dict[str, Any]]) -> pd.DataFrame:
    """Rows as a frame; columns ``_utc`` become times, missing numbers NaN."""
    import pandas as pd

    frame = pd.DataFrame(rows)
    for name in frame.columns:
        if name.endswith("_utc"):
            frame[name] = pd.to_datetime(frame[name], utc=True)
        elif frame[name].dtype == object and not any(
            isinstance(value, (str, list, tuple, dict, bool)) for value in frame[name]
        ):
            frame[name] = frame[name].astype(float)
    return frame


def _numbers_of(frame: pd.DataFrame) -> xr.Dataset:
    """The columns of a frame that are numbers, over its index."""
    return frame[[n for n in frame.columns if frame[n].dtype.kind in "fib"]].to_xarray()


def _number(value: Any, digits: int, unit: str) -> str:
    known = isinstance(value, (int, float)) and value == value
    return f"{value:.{digits}f} {unit}" if known else f"? {unit}"


class PlanResult(Result):
    """One passage, leg by leg: ``passage.plan``."""

    def __init__(self, answer: PlannedPassage) -> None:
        self.answer = answer

    @property
    def legs(self) -> tuple[dict[str, Any], ...]:
        """A dict a leg, with the names of the nomenclature."""
        return self.answer.legs

    @property
    def totals(self) -> dict[str, Any]:
        """Values of the whole passage."""
        return self.answer.totals

    def to_dict(self) -> dict[str, Any]:
        """The plan as in ``passage plan --format json``; None for missing."""
        from passage.report.files.plan_json import plan_dict

        return plan_dict(self.answer)

    def to_dataframe(self) -> pd.DataFrame:
        """A row a leg, indexed by its number."""
        from passage.planning.plan.result import plain

        return _frame([plain(leg) for leg in self.answer.legs]).set_index("leg")

    def to_dataset(self) -> xr.Dataset:
        """The points along the track: a CF trajectory, time decoded."""
        from passage.report.files.plan_netcdf import write_plan_netcdf

        return _dataset(write_plan_netcdf, self.answer)

    def page(self) -> str:
        """The page of :meth:`to_html` as text."""
        from passage.report.pages.plan import plan_page

        return plan_page(self.answer)

    def __repr__(self) -> str:
        from passage.planning.voyage.limits import LIMIT_KEYS

        totals = self.totals
        over = self.answer.limits_exceeded
        sets = self.answer.marks.get("limits", {}).values()
        judged = any(one[key] is not None for one in sets for _, key in LIMIT_KEYS)
        state = "no limit exceeded" if judged else "no limit set"
        state = f"{len(over)} limit(s) exceeded" if over else state
        if not self.answer.fully_covered:
            state += ", not fully covered"
        return (
            f"<PlanResult {self.answer.vessel_name}: {self.answer.route_name}, "
            f"{len(self.legs)} legs, {_number(totals.get('hours'), 1, 'h')}, "
            f"{_number(totals.get('fuel_l'), 0, 'l')}, {state}>"
        )


class CompareResult(Result):
    """Combinations of routes, departures, speeds and fin use: ``passage.compare``."""

    def __init__(self, answer: Comparison) -> None:
        self.answer = answer

    def __len__(self) -> int:
        """Number of combinations."""
        return len(self.answer)

    @property
    def plans(self) -> dict[int, PlanResult]:
        """Whole plans of the named combinations, by number from 1."""
        return {index + 1: PlanResult(plan) for index, plan in self.answer.plans.items()}

    @property
    def names(self) -> dict[str, int]:
        """Numbers of "least fuel", "most comfortable" and "balanced"."""
        return {name: index + 1 for name, index in self.answer.names.items()}

    def to_dict(self) -> dict[str, Any]:
        """The comparison as in ``passage compare --format json``."""
        from passage.report.text.compare import compare_dict

        return compare_dict(self.answer)

    def to_dataframe(self) -> pd.DataFrame:
        """A row a combination, indexed by its number."""
        from passage.report.text.compare_columns import records

        rows = records(self.answer)
        return _frame(rows).set_index(next(iter(rows[0])))

    def to_dataset(self) -> xr.Dataset:
        """Totals over combinations, leg values over combinations and legs."""
        from passage.report.files.compare_netcdf import write_compare_netcdf

        return _dataset(write_compare_netcdf, self.answer)

    def page(self) -> str:
        """The page of :meth:`to_html` as text."""
        from passage.report.pages.compare import compare_page

        return compare_page(self.answer)

    def __repr__(self) -> str:
        named = ", ".join(f"{name} no. {number}" for name, number in self.names.items())
        open_ = int(self.answer.open.sum())
        return f"<CompareResult {len(self)} combinations, {open_} allowed: {named or 'none'}>"


class HeelResult(Result):
    """What to do about steady heel, leg by leg: ``passage.heel``."""

    def __init__(self, answer: HeelAnswer) -> None:
        self.answer = answer

    def to_dict(self) -> dict[str, Any]:
        """The advice as in ``passage heel --format json``."""
        from passage.report.files.heel_files import heel_dict

        return heel_dict(self.answer)

    def to_dataframe(self) -> pd.DataFrame:
        """A row a leg of the best sequence, indexed by its number."""
        rows = self.to_dict()["legs"]
        return _frame(rows).set_index("leg")

    def policies(self) -> pd.DataFrame:
        """A row a way of dealing with heel, with its litres."""
        rows = self.to_dict()["policies"]
        plain_rows = [{k: v for k, v in row.items() if not isinstance(v, list)} for row in rows]
        return _frame(plain_rows).set_index("name")

    def to_dataset(self) -> xr.Dataset:
        """The numbers of :meth:`to_dataframe` over the legs."""
        return _numbers_of(self.to_dataframe())

    def page(self) -> str:
        """The page of :meth:`to_html` as text."""
        from passage.report.pages.heel import heel_page

        return heel_page(self.answer)

    def __repr__(self) -> str:
        first = self.answer.plan.summary[0] if self.answer.plan.summary else ""
        return f"<HeelResult {self.answer.vessel_name}: {self.answer.route_name}. {first}>"


class SeasonResult(Result):
    """Departures over years of past seas: ``passage.season``."""

    def __init__(self, answer: SeasonAnswer) -> None:
        self.answer = answer

    def to_dict(self) -> dict[str, Any]:
        """Statistics as in ``statistics.json`` of the command's folder."""
        from passage.report.text.season import season_dict

        return season_dict(self.answer)

    def to_dataframe(self) -> pd.DataFrame:
        """A row a departure, route and speed; missing ones with the reason in ``status``."""
        import numpy as np
        import pandas as pd

        from passage.planning.season.departures import STATUS

        answer = self.answer
        times = pd.to_datetime(answer.departures_s, unit="s", utc=True)
        words = np.array(["block_missing", *STATUS])
        parts = []
        for p, label in enumerate(answer.labels):
            rows = {name: values[p] for name, values in answer.numbers.items()}
            rows["status"] = words[rows["status"].astype(int) + 1]
            parts.append(pd.DataFrame({**label, "departure_utc": times, **rows}))
        return pd.concat(parts, ignore_index=True)

    def statistics(self) -> pd.DataFrame:
        """A row a route, speed and month (0: all year); percentiles as lists."""
        return _frame(self.to_dict()["statistics"])

    def to_dataset(self) -> xr.Dataset:
        """Every column over (passage, departure)."""
        from passage.report.files.season_files import write_netcdf

        return _dataset(write_netcdf, self.answer)

    def page(self) -> str:
        """The page of :meth:`to_html` as text."""
        from passage.report.pages.season import season_page

        return season_page(self.answer)

    def __repr__(self) -> str:
        passages, departures = self.answer.numbers["status"].shape
        known = int((self.answer.numbers["status"] == 0).sum())
        return f"<SeasonResult {passages} passages x {departures} departures, {known} computed>"


class SuggestResult(Result):
    """A route searched for fuel or comfort, to be appraised: ``passage.suggest``."""

    def __init__(self, answer: Suggestion) -> None:
        self.answer = answer

    @property
    def route(self) -> Any:
        """The route that the verdict advises: the one found, or the one given where it is kept."""
        return self.answer.route_of(self._advised)

    @property
    def _advised(self) -> str:
        from passage.report.text.suggest import advised_of

        return advised_of(self.answer)

    @property
    def plans(self) -> dict[str, PlanResult]:
        """Plans of the suggestion, of the route given and of the great circle, by name."""
        return {name: PlanResult(plan) for name, plan in self.answer.plans.items()}

    @property
    def notes(self) -> tuple[str, ...]:
        """What the search rests on, and that it is to be appraised."""
        return tuple(self.answer.found.notes)

    def to_dict(self) -> dict[str, Any]:
        """Verdict, waypoints, notes, and the plans by name."""
        from passage.report.text.suggest import suggest_dict

        return suggest_dict(self.answer)

    def to_dataframe(self) -> pd.DataFrame:
        """Totals of each plan, a row each."""
        return _frame(
            [
                {
                    "route": name,
                    **{k: v for k, v in plan.to_dict()["totals"].items() if not _nested(v)},
                }
                for name, plan in self.plans.items()
            ]
        ).set_index("route")

    def to_dataset(self) -> xr.Dataset:
        """The passage advised as a CF trajectory."""
        return self.plans[self._advised].to_dataset()

    def page(self) -> str:
        """The suggestion beside the route given, as a page."""
        from passage.report.pages.suggest import suggest_page

        return suggest_page(self.answer)

    def write_route(self, path: PathLike, *, force: bool = False) -> Path:
        """Write the route advised with its schedule: .rtz, .gpx, .geojson or .csv."""
        from passage.planning.suggest.write import write_suggestion

        write_suggestion(self.answer, Path(path), self._advised, force=force)
        return Path(path)

    def __repr__(self) -> str:
        legs = len(self.route.legs)
        return f"<SuggestResult {legs} legs, to be appraised; {self.plans[self._advised]!r}>"


def _nested(value: Any) -> bool:
    return isinstance(value, (dict, list))
