"""Records in other units and with slips: found by what the vessel file makes likely."""

from __future__ import annotations

import numpy as np
import pytest
from calibration_scenario import Voyages, file_text
from case import Bench, Case, check

from passage.inputs.records.log import parse_log
from passage.inputs.vessel import vessel_from_text
from passage.physics.roll.damping import decay_amplitude
from passage.planning.calibrate.calibrate import calibrate

VESSEL = vessel_from_text(file_text())
PERIOD_S = VESSEL.roll.natural_period_s
WRITE = ("--vessel", "{vessel}", "-o", "{out}/new.toml")
CALIBRATE = ("calibrate", "{log}", *WRITE)
DECAY = ("decay", "{log}", *WRITE)


def rows_of_log() -> list[list[str]]:
    """An own log of the yacht of the vessel file itself: nothing to correct."""
    text = Voyages(intervals=48, true=VESSEL).csv(7, own_sea=True)
    return [line.split(",") for line in text.splitlines()]


def log(change):
    """A log whose rows are changed: ``change(header, rows)``."""

    def put(bench: Bench) -> None:
        head, *rows = rows_of_log()
        change(head, rows)
        bench.files["log"] = bench.inputs / "log.csv"
        bench.files["log"].write_text("\n".join(",".join(row) for row in [head, *rows]) + "\n")
        bench.files["vessel"].write_text(file_text())

    return put


def times(name: str, factor: float):
    def change(head: list[str], rows: list[list[str]]) -> None:
        at = head.index(name)
        for row in rows:
            row[at] = f"{float(row[at]) * factor:.4f}"

    return change


def one(name: str, value: str, *, every: int = 1000):
    def change(head: list[str], rows: list[list[str]]) -> None:
        for row in rows[3::every]:
            row[head.index(name)] = value

    return change


FUEL = "fuel_l_per_h"
LOGS = [
    Case("US gallons", CALIBRATE, 3, ("US gallons?",), log(times(FUEL, 0.264))),
    Case("imperial gallons", CALIBRATE, 3, ("imperial gallons?",), log(times(FUEL, 0.22))),
    Case("litres for gallons", CALIBRATE, 3, ("US gallons in the vessel",),
         log(times(FUEL, 3.785))),
    Case("kilograms", CALIBRATE, 3, ("kilograms?", "not written"), log(times(FUEL, 0.85))),
    Case("litres for kilograms", CALIBRATE, 3, ("kilograms in the vessel", "not written"),
         log(times(FUEL, 1.2))),
    Case("one engine of two", CALIBRATE, 3, ("one engine",), log(times(FUEL, 0.5))),
    Case("one outlier of fuel", CALIBRATE, 3, ("line 5: 9999 l/h",), log(one(FUEL, "9999"))),
    Case("one outlier of roll", CALIBRATE, 3, ("line 5",), log(one("roll_rms_deg", "44"))),
    Case("no sea", CALIBRATE, 3, ("significant_height_m is 0 where she rolls",),
         log(one("significant_height_m", "0", every=1))),
    Case("no sea once", CALIBRATE, 3, ("in lines 5.",), log(one("significant_height_m", "0"))),
    Case("sound", CALIBRATE, 0, (), log(lambda head, rows: None), ("new.toml",)),
]  # fmt: skip


@pytest.mark.parametrize("case", LOGS, ids=str)
def test_logs_of_another_unit(tmp_path, case: Case) -> None:
    check(case, Bench(tmp_path / "bench"))


@pytest.mark.parametrize("factor", [0.92, 1.0, 1.07])
def test_differences_to_calibrate_raise_no_doubt(factor) -> None:
    head, *rows = rows_of_log()
    times(FUEL, factor)(head, rows)
    text = "\n".join(",".join(row) for row in [head, *rows])
    assert calibrate(parse_log(text, file="log"), VESSEL).doubts == ()


def record(size: float = 1.0, time: float = 1.0, outlier: float | None = None):
    def put(bench: Bench) -> None:
        half = np.arange(14.0)
        roll = np.degrees(decay_amplitude(half, np.radians(12.0), 0.05, 0.1)) * size
        seconds = half * PERIOD_S / 2.0 * time
        if outlier is not None:
            roll[4] = outlier
        lines = [f"{s:.9g},{r:.9g}" for s, r in zip(seconds, roll, strict=True)]
        bench.files["log"] = bench.inputs / "decay.csv"
        bench.files["log"].write_text("time_s,roll_deg\n" + "\n".join(lines) + "\n")
        bench.files["vessel"].write_text(file_text())

    return put


RECORDS = [
    Case("tiny", DECAY, 3, ("less than can be read off",), record(1e-9)),
    Case("radians", DECAY, 3, ("Are they radians?", "12.0 deg"), record(np.pi / 180.0)),
    Case("milliseconds", DECAY, 3, ("Are the times milliseconds?",), record(time=1000.0)),
    Case("minutes", DECAY, 3, ("Are the times minutes?",), record(time=1 / 60.0)),
    Case("outlier", DECAY, 3, ("reaches 9999 deg",), record(outlier=9999.0)),
    Case("another ship", DECAY, 2, ("not written",), record(time=2.3)),
    Case("sound", DECAY, 0, (), record(), ("new.toml",)),
]  # fmt: skip


@pytest.mark.parametrize("case", RECORDS, ids=str)
def test_decays_of_another_unit(tmp_path, case: Case) -> None:
    check(case, Bench(tmp_path / "bench"))
