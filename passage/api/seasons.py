"""The question of a season, and its size before it runs; the others are in ``questions``."""

from __future__ import annotations

import tempfile
from collections.abc import Iterable
from pathlib import Path
from typing import TYPE_CHECKING, Any

from passage.api import options as choices
from passage.api.given import all_there, file_of, files_of_sea, one, sea_of, several, warn
from passage.api.options import PathLike, Say, check
from passage.api.results import SeasonResult
from passage.api.times import first_of, last_of
from passage.errors import PassageError

if TYPE_CHECKING:
    from typing import Unpack

    from passage.inputs.forecast import Forecast
    from passage.inputs.route import Route
    from passage.inputs.vessel import Vessel
    from passage.planning.season.estimate import Estimate
    from passage.planning.season.setup import SeasonFiles, SeasonOptions

#: Prices that the vessel file's ``[standing]`` may give, and words for what else it gives.
_STANDING_PRICES = ("passages_per_year", "ballast_cost", "ballast_years")
_STANDING_WORDS = {
    "lists_deg": "lists",
    "passages_per_year": "passages a year",
    "ballast_cost": "cost of the ballast",
    "ballast_years": "years of the ballast",
}


def season(
    routes: PathLike | Route | Iterable[PathLike | Route],
    vessel: PathLike | Vessel,
    hindcast: PathLike | Iterable[PathLike] | Forecast,
    *,
    first: Any,
    last: Any,
    every_h: float = 6.0,
    speeds_kn: Iterable[float] = (),
    folder: PathLike | None = None,
    name_map: PathLike | None = None,
    processes: int = 1,
    scheduler: str | None = None,
    say: Say | None = None,
    progress: Any = None,
    passages_per_year: float | None = None,
    fuel_price_per_l: float | None = None,
    crew_cost_per_hour: float | None = None,
    ballast_cost: float | None = None,
    ballast_years: float | None = None,
    **more: Unpack[choices.SeasonChoices],
) -> SeasonResult:
    """Thousands of departures over past years: which months, which route, what odds.

    Parameters
    ----------
    routes, vessel, hindcast
        Paths, or what was read from them unchanged: workers read the files again.
    first, last
        First and last departure, as times or days ("2004-01-01").
    every_h
        Hours between departures. [h]
    folder
        Where finished blocks are kept, so that a stopped run goes on; None: not kept.
    processes
        Processes on this machine. With more than one, call it from under
        ``if __name__ == "__main__":``.
    lists_deg, ballast
        Standing lists whose cures are priced [deg], and a weight carried for good against
        them: ``(tonnes, y_m, z_m)``, to starboard and above the waterline. [t, m]
    passages_per_year, fuel_price_per_l, crew_cost_per_hour, ballast_cost, ballast_years
        For those: passages a year, prices instead of the vessel file's, and what the weight
        costs once, written off over so many years (10). [1/year, money]

    What is not given about the list comes from the vessel file's ``[standing]``; what is
    given goes before it, with a remark to ``say``.

    Raises
    ------
    PassageError
        As for ``plan``; a folder that holds another run.
    """
    from passage.planning.season.season import run_season

    prices = {
        "passages_per_year": passages_per_year,
        "fuel_price_per_l": fuel_price_per_l,
        "crew_cost_per_hour": crew_cost_per_hour,
        "ballast_cost": ballast_cost,
        "ballast_years": ballast_years,
    }
    check(prices, prices)
    ways, sea = several(routes), sea_of(hindcast)
    all_there(ways, (one(vessel),), sea)
    more, prices = _with_standing(vessel, more, prices, say or warn)
    from passage.planning.season.standing_price import BALLAST_YEARS, StandingPrices

    files, made = _season_setup(
        ways, vessel, sea, first, last, every_h, speeds_kn, name_map, processes, more
    )
    with tempfile.TemporaryDirectory(prefix="passage-season-") as own:
        where = Path(own) / "run" if folder is None else Path(folder)
        return SeasonResult(
            run_season(
                files,
                made,
                where,
                processes=processes,
                scheduler=scheduler,
                say=say or warn,
                progress=progress,
                prices=StandingPrices(
                    passages=prices["passages_per_year"],
                    fuel_price_per_l=prices["fuel_price_per_l"],
                    crew_cost_per_hour=prices["crew_cost_per_hour"],
                    ballast_cost=prices["ballast_cost"] or 0.0,
                    ballast_years=prices["ballast_years"] or BALLAST_YEARS,
                ),
            )
        )


def season_size(
    routes: PathLike | Route | Iterable[PathLike | Route],
    vessel: PathLike | Vessel,
    hindcast: PathLike | Iterable[PathLike] | Forecast,
    *,
    first: Any,
    last: Any,
    every_h: float = 6.0,
    speeds_kn: Iterable[float] = (),
    name_map: PathLike | None = None,
    processes: int = 1,
    **more: Unpack[choices.SeasonChoices],
) -> Estimate:
    """Points, memory, time and disk of a season with these options, before it runs."""
    from passage.planning.season.estimate import estimate

    ways, sea = several(routes), sea_of(hindcast)
    all_there(ways, (one(vessel),), sea)
    more, _ = _with_standing(vessel, more, {}, lambda text: None)
    files, made = _season_setup(
        ways, vessel, sea, first, last, every_h, speeds_kn, name_map, processes, more
    )
    return estimate(files, made, processes)


def _with_standing(
    vessel: Any, more: Any, prices: dict[str, Any], say: Say
) -> tuple[Any, dict[str, Any]]:
    """Options and prices, with those of the vessel file's ``[standing]`` that are not given."""
    from passage.planning.voyage.prepare import as_vessel

    standing = as_vessel(one(vessel)).standing
    if standing is None:
        return more, prices
    weight = (standing.ballast_t, standing.ballast_y_m, standing.ballast_z_m)
    in_file = {
        "lists_deg": standing.lists_deg,
        "ballast": None if weight[0] is None else weight,
        **{name: getattr(standing, name) for name in _STANDING_PRICES},
    }
    asked = {**more, **prices}
    instead = [
        name
        for name, value in in_file.items()
        if value is not None and asked.get(name) not in (None, ()) and asked[name] != value
    ]
    if instead:
        words = ", ".join(_STANDING_WORDS.get(name, name) for name in instead)
        say(f"[standing] of the vessel file: {words} as given instead of the file's.")
    taken = {name: value for name, value in in_file.items() if asked.get(name) in (None, ())}
    return (
        {**more, **{name: taken[name] for name in ("lists_deg", "ballast") if name in taken}},
        {**prices, **{name: taken[name] for name in _STANDING_PRICES if name in taken}},
    )


def _season_setup(
    routes: Any,
    vessel: Any,
    hindcast: Any,
    first: Any,
    last: Any,
    every_h: float,
    speeds_kn: Iterable[float],
    name_map: PathLike | None,
    processes: int,
    more: Any,
) -> tuple[SeasonFiles, SeasonOptions]:
    """Files and options of a season, checked."""
    speeds = tuple(float(s) for s in speeds_kn)
    given = {**more, "speeds_kn": speeds, "every_h": every_h, "processes": processes}
    check(given, (*choices.SeasonChoices.__annotations__, "speeds_kn", "every_h", "processes"))
    from passage.planning.season.setup import SeasonFiles, SeasonOptions
    from passage.planning.season.standing import Ballast

    lists = tuple(float(one) for one in given.pop("lists_deg", ()) or ())
    weight = given.pop("ballast", None)
    if weight is not None and not lists:
        raise PassageError("ballast is weighed against a list: give the list too (--list).")
    more = {key: value for key, value in more.items() if key not in ("lists_deg", "ballast")}
    files = SeasonFiles(
        routes=tuple(file_of(route) for route in several(routes)),
        vessel=file_of(one(vessel)),
        forecasts=tuple(file_of(path) for path in files_of_sea(hindcast)),
        # Workers may run in another folder.
        name_map=None if name_map is None else str(Path(name_map).absolute()),
    )
    made = SeasonOptions(
        from_s=first_of(first, "first"),
        to_s=last_of(last, "last"),
        every_h=every_h,
        speeds_kn=speeds,
        lists_deg=tuple(dict.fromkeys(lists)),
        ballast=None if weight is None else Ballast(*(float(x) for x in weight)),
        **more,
    )
    return files, made
