"""Defaults, recordings and short vessel files that are absurd: one message, and no number."""

from __future__ import annotations

import json
import os
from pathlib import Path

import forecast_maker as maker
import pytest
from case import INPUTS, PLAN, Bench, Case, check, run_here
from fuzz_newer import MOVES, SHORT, recording, surroundings

DEEP = "minutes = " + "[" * 30_000 + "]" * 30_000


def defaults(text: str):
    """A file of defaults in the folder of the inputs."""

    def put(bench: Bench) -> None:
        (bench.inputs / "passage.toml").write_text(text, encoding="utf-8")

    return put


DEFAULTS = ("defaults",)
SHORT_PLAN = ("plan", "{route}", *INPUTS, "--departure", "2026-03-14T01:00Z")
CASES = [
    Case("a user that there is not", DEFAULTS, 2, ("passage.toml", "vessel = '~nosuchuser/x'"),
         defaults('vessel = "~nosuchuser/x"')),
    Case("a name with a zero byte", DEFAULTS, 2, ("vessel = 'a\\x00b'", "not the name of a file"),
         defaults('vessel = "a\\u0000b"')),
    Case("a name that turns the line", DEFAULTS, 2, ("'\\u202ea'", "takes no default"),
         defaults('"\\u202ea" = 1')),
    Case("a command that turns the line", DEFAULTS, 2, ("'\\u202ea'", "is not a command"),
         defaults('["\\u202ea"]')),
    Case("a time of day", SHORT_PLAN, 2, ("wide: must be a text",), defaults("wide = 06:00:00")),
    Case("a number for a switch", SHORT_PLAN, 2, ("--wide", "'5' is not a valid boolean"),
         defaults("wide = 5")),
    Case("a date", SHORT_PLAN, 2, ("minutes: must be a text",), defaults("minutes = 2026-03-14")),
    Case("nested too deep", DEFAULTS, 2, ("nested too deep",), defaults(DEEP)),
    Case("much too large", DEFAULTS, 2, ("over 1,000,000 bytes",), defaults("#" * 1_000_001)),
    Case("no number", SHORT_PLAN, 2, ("--minutes", "not a finite number"),
         defaults("minutes = nan")),
    Case("an endless word", (*PLAN, "--zone", "A" * 5000), 2, ("AAA ... AAA", "not a known zone")),
]  # fmt: skip


@pytest.mark.parametrize("case", CASES, ids=str)
def test_absurd_defaults_are_refused(tmp_path, case: Case) -> None:
    bench = Bench(tmp_path / "bench")
    with surroundings(bench.inputs, {"PASSAGE_DEFAULTS": "on"}):
        check(case, bench)


#: Cells that a library takes for numbers and times, and a reader does not.
CELLS = {
    "2026Z": "time", "2026-03Z": "time", "2026-03-14T01:00:00+02:00Z": "time",
    "1926-03-14T01:00:00Z": "time", "1_1.9": "speed_through_water_kn",
    "\u0663": "speed_through_water_kn", "\uff15": "fuel_l_per_h",
}  # fmt: skip


@pytest.mark.parametrize("cell", CELLS)
def test_recording_cells_that_only_the_library_reads_are_refused(tmp_path, cell: str) -> None:
    from passage.errors import LogError
    from passage.inputs.records.recording import read_recording

    rows = [line.split(",") for line in recording(60.0, 0.2).splitlines()]
    rows[5][rows[0].index(CELLS[cell])] = cell
    path = tmp_path / "log.csv"
    path.write_text("\n".join(map(",".join, rows)), encoding="utf-8")
    with pytest.raises(LogError, match=r"log\.csv:6: "):
        read_recording(path)


@pytest.mark.parametrize(
    ("old", "new", "says"),
    [("natural_period_s = 7.8", 'natural_period_s = "x"', "natural_period_s"),
     ("[8.0, 12.0, 14.0]", '["a", 12.0]', "speed_kn item 1"),
     ("area_m2 = 2.0", "area_m2 = nan", "area_m2"),
     ("draught_m = 2.8", "", "draught_m")],
)  # fmt: skip
def test_a_short_vessel_file_with_one_wrong_value(tmp_path, old, new, says) -> None:
    """What cannot be read is reported; what would be estimated from it is not."""

    def put(bench: Bench) -> None:
        assert SHORT.count(old) == 1
        bench.files["vessel"].write_text(SHORT.replace(old, new))

    bench = Bench(tmp_path / "bench")
    ended = check(Case(old, PLAN, 3, (says,), put), bench)
    assert len(ended.stderr.splitlines()) <= 2


@pytest.mark.parametrize("number", [1e200, -1e300, float("inf")])
def test_a_plan_file_with_impossible_numbers_is_refused(tmp_path, number) -> None:
    from passage.errors import PlanFileError
    from passage.inputs.records.plan_file import read_plan

    one = {k: [1.0] for k in ("leg", "time_s", "hours", "lat_deg", "lon_deg", "distance_nm")}
    track = {**one, "end_lat_deg": [1.0, 2.0], "end_lon_deg": [1.0, 2.0], "fuel_l": [number]}
    path = tmp_path / "plan.json"
    path.write_text(json.dumps({"track": track, "legs": [{}], "vessel_text": SHORT}))
    with pytest.raises(PlanFileError, match=r"track\.fuel_l holds a number that no plan gives"):
        read_plan(path)
    path.write_text(path.read_text().replace(json.dumps(number), "2.0"))
    assert read_plan(path).track["fuel_l"].tolist() == [2.0]


@pytest.mark.parametrize("what", ["pipe", "zero"])
def test_transfers_from_a_pipe_or_a_device_are_refused_at_once(tmp_path, what) -> None:
    def put(bench: Bench) -> None:
        path = bench.files["moves"] = bench.inputs / "moves"
        os.mkfifo(path) if what == "pipe" else path.symlink_to("/dev/zero")

    bench = Bench(tmp_path / "bench")
    put(bench)
    ended = run_here(bench.words((*PLAN, "--moves", "{moves}")))
    assert ended.code == 2
    assert "is a pipe or a device" in ended.stderr


@pytest.mark.parametrize("leg", ["inf", "-inf", "nan", "1e400", "1.5", "0"])
def test_transfers_before_a_missing_leg_are_refused(tmp_path, leg) -> None:
    def put(bench: Bench) -> None:
        bench.files["moves"] = bench.inputs / "moves.csv"
        bench.files["moves"].write_text(MOVES.replace("\n1,", f"\n{leg},"))

    words = (*PLAN, "--moves", "{moves}")
    check(Case(leg, words, 2, ("moves.csv", f"before_leg is '{leg}'"), put),
          Bench(tmp_path / "bench"))  # fmt: skip


@pytest.mark.parametrize("hours", ["x", [1], 1e308, -1])
def test_invalid_hours_of_a_heel_answer_are_refused(tmp_path, hours) -> None:
    move = {"before_leg": 1, "source": "fuel port", "target": "fuel starboard", "amount_m3": 1.0,
            "hours_into_leg": hours}  # fmt: skip
    answer = {"policies": [{"advised": True, "fins_rule": "all", "moves": [move]}]}

    def put(bench: Bench) -> None:
        bench.files["moves"] = bench.inputs / "moves.json"
        bench.files["moves"].write_text(json.dumps(answer))

    words = (*PLAN, "--moves", "{moves}")
    check(Case("hours", words, 2, ("hours_into_leg is",), put), Bench(tmp_path / "bench"))


def test_an_entrance_without_length_raises_no_warning(tmp_path) -> None:
    def put(bench: Bench) -> None:
        bench.files["vessel"].write_text(
            SHORT.replace("draught_m = 2.8", "draught_m = 2.8\nentrance_length_m = 1e-320")
        )

    ended = check(Case("no entrance", PLAN, 0, (), put), Bench(tmp_path / "bench"))
    assert "Warning" not in ended.stderr


def test_a_fill_value_in_cm_per_second_is_not_wind(tmp_path) -> None:
    def put(bench: Bench) -> None:
        flows = maker.wind(99.99, 3.0)
        maker.write_forecast(bench.files["sea"], maker.sea(2.0, 8.0, 200.0) | flows)

    says = ("'u10'", "99.99 m/s")
    check(Case("a fill value", PLAN, 4, says, put), Bench(tmp_path / "bench"))


def test_a_recording_read_at_once_is_that_read_cell_by_cell(tmp_path) -> None:
    """The fast way through a block, and the slow one that one odd cell brings."""
    from passage.inputs.records.recording import read_recording

    text = recording(60.0, 0.5)
    whole = tmp_path / "whole.csv"
    whole.write_text(text)
    slow = tmp_path / "slow.csv"
    slow.write_text(text.replace("T01:00:00Z", "T01:00:00+00:00").replace(",11.9,", ", 11.9 ,"))
    one, other = read_recording(whole), read_recording(slow)
    assert one.time_s.tolist() == other.time_s.tolist()
    for name in one.values:
        assert one.column(name).tolist() == other.column(name).tolist()
    assert Path(one.file) == whole
