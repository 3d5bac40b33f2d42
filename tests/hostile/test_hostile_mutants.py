"""Thousands of damaged and absurd files: words or a sound answer, never anything else.

What is thrown and what came of it is told in ``docs/hostility.md``. A failure names its
mutant; ``fuzz_child.py`` makes that one again.
"""

from __future__ import annotations

import os

import pytest
from fuzz_driver import assert_sound, hammer

#: Kind and number of mutants. A longer run: PASSAGE_MUTANTS=10 pytest -m slow ...
PLAN = {
    "vessel": 900,
    "route": 1500,
    "recoded": 300,
    "log": 350,
    "decay": 350,
    "map": 250,
    "netcdf4": 600,
    "netcdf3": 350,
    "cut": 300,
    "absurd": 350,
    "same": 300,
    "poison": 300,
    "check": 80,
    "responses": 120,
}
FACTOR = int(os.environ.get("PASSAGE_MUTANTS", "1"))
SEED = os.environ.get("PASSAGE_SEED", "passage")


def test_there_are_enough() -> None:
    assert sum(PLAN.values()) > 5000


@pytest.mark.slow
@pytest.mark.parametrize("kind", PLAN)
def test_mutants(kind: str, tmp_path) -> None:
    tally = hammer(kind, PLAN[kind] * FACTOR, tmp_path / "run", SEED)
    assert_sound(tally)
    assert tally.total == PLAN[kind] * FACTOR
    # A test in which every mutant is refused, or none, tests only half of it.
    answered = tally.total - tally.counts["refused"]
    if kind not in ("cut", "poison"):
        assert answered > 0
    if kind == "same":
        assert answered == tally.total
    else:
        assert tally.counts["refused"] > 0


@pytest.mark.slow
def test_grib_mutants(tmp_path) -> None:
    pytest.importorskip("eccodes", reason="the grib extra is not installed")
    assert_sound(hammer("grib", 150 * FACTOR, tmp_path / "run", SEED))


@pytest.mark.slow
def test_zarr_mutants(tmp_path) -> None:
    pytest.importorskip("zarr", reason="the season extra is not installed")
    assert_sound(hammer("zarr", 120 * FACTOR, tmp_path / "run", SEED))


def test_the_driver_sees_a_fault(tmp_path, monkeypatch) -> None:
    """Crash, hang, traceback and a wrong answer are each counted, and the run goes on."""
    monkeypatch.setattr("fuzz_driver.HANG_S", 1.0)
    tally = hammer("faulty", 5, tmp_path / "run")
    assert len(tally.crashes) == 1
    assert len(tally.hangs) == 1
    assert tally.counts == {"fail": 2, "read": 1}
    with pytest.raises(AssertionError):
        assert_sound(tally)
