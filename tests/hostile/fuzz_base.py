"""Shared by the kinds of mutants: one yacht, one short route, one small sea, one judge."""

from __future__ import annotations

import json
import math
import random
from pathlib import Path
from typing import Any, ClassVar

import forecast_maker as maker
import netCDF4
import numpy as np

SAMPLES = Path(__file__).resolve().parents[2] / "sample_forecasts"
ROUTE = "name,lat,lon,leg,speed_kn,stay_h\nA,48.3,-7.5,,,\nB,49.4,-6.5,rhumb,12,1\n"
DEPARTURE_S = maker.start_s() + 3600.0
#: Points of the route and times at which answers are compared.
LAT, LON = np.linspace(48.3, 49.4, 9), np.linspace(-7.5, -6.5, 9)
TIME_S = DEPARTURE_S + np.linspace(0.0, 8.0, 9) * 3600.0


class Kind:
    """One kind of mutants: made from a seed, then judged by the program."""

    #: Exit code of the refusals that are right here.
    exit_code: ClassVar[int] = 3

    def __init__(self, folder: Path) -> None:
        self.seed = folder / "seed"
        self.seed.mkdir(parents=True, exist_ok=True)

    def warm(self) -> None:
        """What takes long once: imports and tables."""

    def make(self, chance: random.Random, folder: Path) -> tuple[Path, str]:
        """Write a mutant into an empty folder; its path and a word about it."""
        raise NotImplementedError

    def judge(self, path: Path) -> str:
        """Use the mutant; a word such as "read". Anything but a PassageError is a fault."""
        raise NotImplementedError

    def refused(self, err: Exception) -> str:
        """Why this refusal is wrong, or nothing."""
        return ""


def small_sea() -> dict[str, maker.Made]:
    """Total sea, two partitions, wind and current that vary in place and time."""

    def field(base: float, along: float, rate: float) -> Any:
        return lambda lat, lon, hour: base + along * (lat - 49.0) - along * lon / 9 + rate * hour

    return (
        maker.sea(field(1.8, 0.1, 0.02), field(8.0, 0.2, 0.05), field(270.0, 4.0, 1.0))
        | maker.partition("wind", field(1.2, 0.1, 0.02), field(5.0, 0.1, 0.02), 255.0)
        | maker.partition("primary_swell", field(1.3, 0.05, 0.01), field(9.0, 0.1, 0.02), 290.0)
        | maker.wind(field(6.0, 0.5, 0.1), field(-2.0, 0.5, 0.1))
        | maker.current(field(0.4, 0.05, 0.01), field(-0.2, 0.05, 0.01))
    )


def strict_json(text: str) -> Any:
    """Parse JSON that must not hold NaN or infinities, not even as words."""

    def refuse(word: str) -> None:
        raise AssertionError(f"JSON holds {word}")

    return json.loads(text, parse_constant=refuse)


def whole_or_refused(ended: Any, out: Path, target: Path | None, form: str) -> str:
    """What a command came to: refused in words with nothing written, or an answer that is whole."""
    parts = [p.name for p in out.rglob("*") if ".part" in p.name]
    assert not parts, f"half written: {parts}"
    if ended.code in (2, 3, 4):
        assert ended.stderr.strip(), "refused without a word"
        assert target is None or not target.exists(), "refused, and written"
        return "refused"
    if form == "json":
        strict_json(target.read_text() if target is not None else ended.stdout)
    elif target is not None and form in ("html", "sheet"):
        assert target.read_text().rstrip().endswith("</html>")
    elif target is not None and form == "netcdf":
        netCDF4.Dataset(target).close()
    return f"exit {ended.code}"


class Planner:
    """The sample yacht on the short route, with tables made once."""

    def __init__(self, folder: Path) -> None:
        from passage.inputs.route import read_route
        from passage.inputs.vessel import read_vessel
        from passage.planning.voyage.prepare import PlanOptions, prepare

        route = folder / "short.csv"
        route.write_text(ROUTE)
        self.options = PlanOptions(departure_s=DEPARTURE_S, minutes=60.0)
        vessel = read_vessel(SAMPLES / "brambling.toml")
        self.passage = prepare(vessel, read_route(route), self.options)

    def plan(self, *paths: Path) -> dict[str, Any]:
        """The plan as its JSON says it; also as table and CSV, which must be sound too."""
        from passage.planning.plan.plan import plan
        from passage.planning.voyage.prepare import corridor, open_for
        from passage.report.files.plan_json import plan_json
        from passage.report.text.plan import plan_csv, plan_table

        hours = DEPARTURE_S, DEPARTURE_S + 12 * 3600.0
        with open_for(
            corridor([self.passage.track]), paths, self.passage.vessel, *hours,
            self.options, [], hours,
        ) as forecast:  # fmt: skip
            made = plan(self.passage, forecast, self.options)
            assert plan_table(made)
            assert plan_csv(made)
            answer = strict_json(plan_json(made))
        for leg in answer["legs"]:
            litres = leg["fuel_l"]
            assert litres is None or (math.isfinite(litres) and litres >= 0.0)
        return answer
