"""Thousands of damaged and absurd files: words or a sound answer, never anything else.

The kinds of mutants and the results are in ``docs/hostility.md``. A failure names its
mutant; ``fuzz_child.py`` makes that one again.
"""

from __future__ import annotations

import os
from datetime import UTC, datetime
from pathlib import Path

import pytest
from fuzz_driver import assert_sound, hammer
from fuzz_kinds import SHARES

ALWAYS, NIGHTLY = 2_000, 10_000
SEED = os.environ.get("PASSAGE_SEED", "passage")
#: Kinds in which all mutants may be refused.
MAY_ALL_BE_REFUSED = ("cut", "poison")


def test_shares_make_a_whole() -> None:
    assert sum(SHARES.values()) == pytest.approx(1.0, rel=1e-6)


def run_kind(kind: str, count: int, folder: Path, seed: str) -> None:
    """Throw mutants of one kind; no fault, and both sides of the kind are met."""
    tally = hammer(kind, count, folder, seed)
    assert_sound(tally)
    assert tally.total == count
    # A test in which every mutant is refused, or none, tests only half of it.
    answered = tally.total - tally.counts["refused"]
    if kind not in MAY_ALL_BE_REFUSED:
        assert answered > 0
    if kind == "same":
        assert answered == tally.total
    else:
        assert tally.counts["refused"] > 0


@pytest.mark.slow
@pytest.mark.parametrize("kind", SHARES)
def test_mutants(kind: str, tmp_path) -> None:
    run_kind(kind, round(SHARES[kind] * ALWAYS), tmp_path / "run", SEED)


@pytest.mark.nightly
@pytest.mark.parametrize("kind", SHARES)
def test_many_mutants(kind: str, tmp_path) -> None:
    """Another seed every day, so that nights add up; a failure names the seed."""
    today = os.environ.get("PASSAGE_SEED") or datetime.now(tz=UTC).strftime("%Y-%m-%d")
    run_kind(kind, round(SHARES[kind] * NIGHTLY), tmp_path / "run", today)


@pytest.mark.slow
def test_grib_mutants(tmp_path) -> None:
    pytest.importorskip("eccodes", reason="the grib extra is not installed")
    assert_sound(hammer("grib", 150, tmp_path / "run", SEED))


@pytest.mark.slow
def test_zarr_mutants(tmp_path) -> None:
    pytest.importorskip("zarr", reason="the season extra is not installed")
    assert_sound(hammer("zarr", 120, tmp_path / "run", SEED))


def test_the_driver_detects_a_fault(tmp_path, monkeypatch) -> None:
    """Crash, hang, traceback and a wrong answer are each counted, and the run goes on."""
    monkeypatch.setattr("fuzz_driver.HANG_S", 1.0)
    tally = hammer("faulty", 5, tmp_path / "run")
    assert len(tally.crashes) == 1
    assert len(tally.hangs) == 1
    assert tally.counts == {"fail": 2, "read": 1}
    with pytest.raises(AssertionError):
        assert_sound(tally)
