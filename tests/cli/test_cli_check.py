"""``passage check``: what it prints, and how it ends."""

from __future__ import annotations

import subprocess
import sys

import pytest
from click.testing import CliRunner

from passage.cli.check import command
from passage.errors import ForecastError

ROUTE = "name,lat,lon\nA,48.5,-7.5\nB,49.5,-6.5\n"


@pytest.fixture
def route(tmp_path):
    path = tmp_path / "route.csv"
    path.write_text(ROUTE)
    return path


def run(*arguments):
    result = CliRunner().invoke(command, [str(a) for a in arguments])
    if result.exception is not None and not isinstance(result.exception, SystemExit):
        return result.stdout, result.exception
    return result.stdout, None


def test_check_shows_what_was_recognised(make_forecast, maker) -> None:
    variables = maker.sea() | maker.wind() | {"odd": maker.Made(1.0, "1")}
    text, error = run(make_forecast(variables, run="2026-03-14T00:00"))
    assert error is None
    for words in (
        "sea.nc  (netcdf4",
        "48.00 N to 50.00 N by 0.5, 8.00 W to 6.00 W by 0.5 deg",
        "2026-03-14T00:00Z to 2026-03-14T12:00Z, 5 steps of 3 h",
        "run       2026-03-14T00:00Z",
        "total direction, coming from",
        "total peak period Tp",
        "not used  odd: not known",
        "uses      waves: hs, tp, mdir",
        "no current in the files",
    ):
        assert words in text, words


def test_coverage_along_a_route_and_the_first_problem(make_forecast, maker, route) -> None:
    text, error = run(make_forecast(maker.sea()), "--route", route)
    assert error is None
    assert "leg 1  A to B: waves covered 100 %" in text
    assert "No problem found." in text
    text, _ = run(make_forecast(maker.sea()), "--route", route, "--departure", "2026-03-14T10:00Z")
    assert "beyond the forecast" in text
    assert "First problem: waves beyond the forecast at 48.8" in text
    assert "Leave earlier" in " ".join(text.split())


def test_masked_coast_is_named_with_its_remedy(make_forecast, maker, route) -> None:
    import numpy as np

    path = make_forecast(maker.sea(lambda lat, lon, h: np.where(lon > -6.9, np.nan, 1.5)))
    text, _ = run(path, "--route", route)
    assert "waves masked at" in text
    assert "--nearest-sea-cell" in text
    text, _ = run(path, "--route", route, "--nearest-sea-cell", "60")
    assert "nearest sea cell" in text
    assert "First problem: waves nearest sea cell" in text


def test_a_map_file_explains_names(make_forecast, maker, tmp_path) -> None:
    variables = maker.sea()
    variables["WAVDIR"] = maker.Made(270.0, "degree", attrs={"long_name": "wave direction"})
    del variables["mdir"]
    path = make_forecast(variables)
    text, error = run(path)
    assert isinstance(error, ForecastError)
    assert error.exit_code == 4
    assert "PROBLEM" in text
    names = tmp_path / "names.toml"
    names.write_text('[names]\nWAVDIR = "total_from_direction"\n')
    text, error = run(path, "--map", names)
    assert error is None
    assert "your map" in text


def test_one_bad_file_does_not_hide_the_good_ones(make_forecast, tmp_path) -> None:
    bad = tmp_path / "bad.nc"
    bad.write_bytes(b"")
    text, error = run(make_forecast(), bad)
    assert isinstance(error, ForecastError)
    assert "is empty" in str(error)
    assert "total_height" in text


def test_files_that_clash_end_in_a_message(make_forecast) -> None:
    one, two = make_forecast(name="a.nc"), make_forecast(name="b.nc")
    text, error = run(one, two)
    assert isinstance(error, ForecastError)
    assert "given twice" in str(error)
    assert "given twice" not in text


def test_the_program_prints_no_traceback_and_exits_4(make_forecast, tmp_path) -> None:
    code = "from passage.cli.main import main; main()"
    bad = tmp_path / "bad.nc"
    bad.write_bytes(b"CDF\x01" + b"\xff" * 100)
    done = subprocess.run(
        [sys.executable, "-c", code, "check", str(bad)],
        capture_output=True, text=True, check=False,
    )  # fmt: skip
    assert done.returncode == 4
    assert "Traceback" not in done.stderr
    assert "cut short or damaged" in done.stderr
    good = subprocess.run(
        [sys.executable, "-c", code, "check", str(make_forecast())],
        capture_output=True, text=True, check=False,
    )  # fmt: skip
    assert good.returncode == 0
    assert good.stderr == ""


def test_files_that_cannot_be_used_together_are_reported_beside_what_was_found(
    make_forecast, maker
):
    text, error = run(make_forecast(maker.current(), run="2026-03-14T00:00"))
    assert isinstance(error, ForecastError)
    assert "holds no waves" in str(error)
    assert "holds no waves" not in " ".join(text.split())
    assert "current" in text
