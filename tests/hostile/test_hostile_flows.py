"""Wind and current that are in the files but reach nothing of the way: every answer says so."""

from __future__ import annotations

import json

import forecast_maker as maker
import numpy as np
import pytest
from case import COMPARE, HEEL, PLAN, SEASON, SUGGEST, Bench, Case, check

FLOWS = maker.wind(12.0, 3.0) | maker.current()
#: Files of wind and current that miss the passage: file arguments by what is wrong.
MISSES = {
    "is of another area": {"lat": np.arange(40.0, 42.01, 0.5)},
    "is masked": {},
    "ends before": {"hours": [-30.0, 0.0]},
}


def put_flows(why: str):
    def put(bench: Bench) -> None:
        maker.write_forecast(bench.files["sea"], maker.sea(2.0, 8.0, 200.0))
        flows = FLOWS
        if why == "is masked":
            flows = {name: maker.Made(np.nan, made.units, made.standard_name)
                     for name, made in FLOWS.items()}  # fmt: skip
        maker.write_forecast(bench.inputs / "flows.nc", flows, **MISSES[why])
        bench.files["flows"] = bench.inputs / "flows.nc"

    return put


MORE = ("--forecast", "{flows}")
SAYS = ("o wind is known on 100 % of the passage", "o current is known on 100 % of the passage")
CASES = [
    *(Case(f"plan, {why}", (*PLAN, *MORE), 0, (*SAYS, why), put_flows(why)) for why in MISSES),
    Case("plan as JSON", (*PLAN, *MORE, "--format", "json"), 0,
         ("wind_missing", "current_missing"), put_flows("is masked")),
    Case("plan as a page", (*PLAN, *MORE, "--format", "html", "-o", "{out}/p.html"), 0, (),
         put_flows("is masked"), ("p.html",)),
    Case("plan --strict", (*PLAN, *MORE, "--strict"), 5,
         ("no wind is known on 100 % of the passage: that of the files is masked", "Give a file"),
         put_flows("is masked")),
    Case("compare", (*COMPARE, *MORE), 0, ("lacks the wind or current",),
         put_flows("is masked")),
    Case("compare --strict", (*COMPARE, *MORE, "--strict"), 5, ("1 of 1",),
         put_flows("is of another area")),
    Case("heel", (*HEEL, *MORE), 0, SAYS, put_flows("is masked")),
    Case("suggest", (*SUGGEST, *MORE), 0, SAYS, put_flows("is masked")),
    Case("season, masked", (*SEASON, *MORE, "--strict"), 5, ("3 departures",),
         put_flows("is masked"), ("season",)),
    Case("season in words", (*SEASON, *MORE), 0,
         ("3 have none of the wind that the files give",), put_flows("is masked"), ("season",)),
    Case("season, elsewhere", (*SEASON, *MORE, "--strict"), 5, ("3 departures",),
         put_flows("is of another area"), ("season",)),
    Case("season --exact", (*SEASON, *MORE, "--strict", "--exact"), 5, ("3 departures",),
         put_flows("is masked"), ("season",)),
]  # fmt: skip


@pytest.mark.parametrize("case", CASES, ids=str)
def test_wind_and_current_off_the_route_are_reported(tmp_path, case: Case) -> None:
    check(case, Bench(tmp_path / "bench"))


def test_the_page_reports_missing_flows(tmp_path) -> None:
    bench = Bench(tmp_path / "bench")
    check(CASES[4], bench)
    page = (bench.out / "p.html").read_text()
    assert "known on 100 % of the passage" in page
    assert "Nothing exceeds" not in page


def test_without_wind_files_none_is_reported_missing(tmp_path) -> None:
    """No wind at all in the files is a caution, not a mistake in them; --strict wants one."""
    bench = Bench(tmp_path / "bench")
    maker.write_forecast(bench.files["sea"], maker.sea(2.0, 8.0, 200.0))
    ended = check(Case("no wind", (*PLAN, "--format", "json"), 0), bench)
    answer = json.loads(ended.stdout)
    assert not [c for c in answer["cautions"] if c["code"].endswith("_missing")]
    assert "wind_none" in [c["code"] for c in answer["cautions"]]
    assert "no wind in the files" in answer["notes"]
    check(
        Case(
            "no wind, strict",
            (*PLAN, "--strict"),
            5,
            ("no wind is known on 100 % of the passage: no file", "Give a file"),
        ),
        bench,
    )
