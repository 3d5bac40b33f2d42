"""Long work is never silent: one line on a terminal, plain lines elsewhere."""

import time
from contextlib import suppress
from pathlib import Path

import pytest
from output_gaps import heard

from passage.cli import pace
from passage.cli import progress as module
from passage.cli.pace import pace_key
from passage.cli.progress import Progress, duration

ROOT = Path(__file__).parents[2]
SAMPLES = ROOT / "sample_forecasts"
FILES = [
    "--vessel", str(SAMPLES / "brambling_may.toml"),
    *(word for part in ("waves", "wind", "current")
      for word in ("--forecast", str(SAMPLES / f"spring_{part}.nc"))),
]  # fmt: skip
ROUTES = [str(SAMPLES / f"{name}.csv") for name in ("straight", "outside", "inside")]


class Clock:
    """Time that moves when asked to."""

    def __init__(self) -> None:
        self.now = 100.0

    def monotonic(self) -> float:
        return self.now


@pytest.fixture
def clock(monkeypatch):
    made = Clock()
    monkeypatch.setattr(module.time, "monotonic", made.monotonic)
    return made


def steps(clock, work, costs, total):
    """Estimates of the time left after every step, with the time that was left."""
    said = []
    for done, cost in enumerate(costs, 1):
        clock.now += cost
        work(done, total)
        said.append((work.left_s(clock.now), sum(costs[done:])))
    return said


@pytest.mark.parametrize("counted_from_zero", [True, False])
@pytest.mark.parametrize("first", [1.0, 14.0, 60.0])
def test_first_estimate_is_within_a_factor_of_two(clock, first, counted_from_zero):
    """The first step makes tables that the others read, however long that takes."""
    work = Progress("blocks")
    if counted_from_zero:
        work(0, 8)
    said = steps(clock, work, [first, 1.0, 1.2, 0.9, 1.0, 1.1, 1.0, 0.8], 8)
    known = [(guess, left) for guess, left in said[:-1] if guess is not None]
    assert known
    assert all(0.5 <= guess / left <= 2.0 for guess, left in known)


def test_estimate_after_a_resumed_run_counts_only_what_was_done_now(clock):
    work = Progress("blocks", resumed="{} of {} are there.")
    work(90, 100)
    for done in range(91, 96):
        clock.now += 2.0
        work(done, 100)
    assert work.left_s(clock.now) == pytest.approx(10.0, rel=1e-6)


def test_what_is_left_shrinks_while_a_step_is_under_way(clock):
    work = Progress("blocks")
    steps(clock, work, [5.0, 4.0, 4.0], 5)
    clock.now += 3.0
    assert work.left_s(clock.now) == pytest.approx(5.0, rel=1e-6)
    clock.now += 60.0
    assert work.left_s(clock.now) == 0.0


def test_a_second_count_starts_again(clock):
    work = Progress("prices")
    steps(clock, work, [1.0, 1.0, 1.0], 3)
    clock.now += 50.0
    work(1, 3)
    assert work.left_s(clock.now) is None
    assert work.text().startswith("prices: 1 of 3, ")


def test_a_named_stage_is_reported_and_counts_nothing(clock):
    work = Progress("prices", part=True)
    steps(clock, work, [1.0, 1.0, 1.0], 9)
    assert work.text() == "prices: 3 of 9, 3 s, about 6 s left of this step"
    work.stage("smoothing")
    assert work.text() == "smoothing, 3 s"


def test_without_a_count_the_time_left_goes_by_the_last_similar_run(clock, monkeypatch, tmp_path):
    # What is remembered here must not be taken for a run of the tests below.
    monkeypatch.setenv("PASSAGE_CACHE", str(tmp_path))
    key = pace_key("plan", {"route": Path("a/outside.csv"), "draws": 64, "force": True})
    assert key == "plan outside.csv 64"
    pace.keep(key, 8.0)
    work = Progress("planning", like=key)
    clock.now += 2.0
    assert work.text() == "planning, 2 s, about 6 s left, going by the last similar run"
    clock.now += 6.0
    assert work.text() == "planning, 8 s; the last similar run took 8 s"
    assert Progress("planning", like="plan western.csv 64").text() == "planning, 0 s"


@pytest.mark.parametrize("fails", [False, True])
def test_only_a_finished_run_is_remembered(clock, monkeypatch, fails):
    monkeypatch.setenv("PASSAGE_PROGRESS", "off")
    with suppress(ValueError), Progress("planning", like=f"heel {fails}"):
        clock.now += 5.0
        if fails:
            raise ValueError
    assert pace.last_s(f"heel {fails}") == (None if fails else 5.0)


@pytest.mark.parametrize("text", ["", "[1]", '{"plan": "x"}', '{"plan": -1.0}', "\x00"])
def test_a_damaged_file_of_paces_is_ignored(monkeypatch, tmp_path, text):
    monkeypatch.setenv("PASSAGE_CACHE", str(tmp_path))
    (tmp_path / pace.NAME).write_text(text, "utf-8")
    assert pace.last_s("plan") is None
    pace.keep("plan", 3.0)
    assert pace.last_s("plan") == 3.0
    monkeypatch.setenv("PASSAGE_CACHE", "off")
    pace.keep("plan", 4.0)
    assert pace.last_s("plan") is None


@pytest.mark.parametrize(
    ("seconds", "words"), [(0.4, "0 s"), (59.4, "59 s"), (60.0, "1 min 00 s"), (7500, "2 h 05 min")]
)
def test_duration(seconds, words):
    assert duration(seconds) == words


@pytest.mark.parametrize("live", [False, True])
def test_progress_is_written_after_silence_and_cleared_before_output(monkeypatch, capsys, live):
    monkeypatch.setenv("PASSAGE_PROGRESS", "on")
    monkeypatch.setattr(module, "SILENCE_S", 0.2)
    monkeypatch.setattr(module, "_LIVE_S", 0.1)
    monkeypatch.setattr("sys.stderr.isatty", lambda: live, raising=False)
    with Progress("outer"), Progress("inner") as inner:
        time.sleep(0.6)
        inner(1, 4)
        time.sleep(0.5)
        module.clear()
    said = capsys.readouterr().err
    assert "outer, " in said
    assert "inner: 1 of 4" in said
    assert said.endswith("\r\033[K") if live else "\r" not in said
    assert ("\n" in said) is not live
    assert module._LINE._thread is None


def test_progress_can_be_switched_off(monkeypatch, capsys):
    monkeypatch.setenv("PASSAGE_PROGRESS", "off")
    monkeypatch.setattr(module, "SILENCE_S", 0.05)
    with Progress("outer") as work:
        work(1, 2)
        time.sleep(0.4)
    assert capsys.readouterr().err == ""


@pytest.mark.parametrize("terminal", [False, True])
def test_compare_shows_progress(terminal):
    """Three seconds, not two: the machine may be busy."""
    words = ["compare", *ROUTES, *FILES, "--from", "2026-05-20T06:00Z", "--to",
             "2026-05-21T18:00Z", "--every", "1", "--speed", "10", "--speed", "12"]  # fmt: skip
    made = heard(words, terminal=terminal)
    assert made.code == 0, made.text
    assert made.longest_gap_s < 3.0
    if terminal:
        assert "\r" in made.text
    else:
        assert "\r" not in made.text
        assert "\033" not in made.text


#: Longest silence that a busy test machine may make of the two seconds allowed. [s]
BUSY_S = 8.0


def long_runs(folder):
    """Arguments of the commands that take seconds, by name."""
    from hindcast_maker import make_hindcast

    past = make_hindcast(folder / "past.nc")
    leave = ["--departure", "2026-05-20T18:00Z"]
    return {
        "plan": [ROUTES[1], *FILES, *leave, "--speed", "10"],
        "heel": [ROUTES[1], *FILES, *leave, "--speed", "10"],
        "suggest": [ROUTES[0], *FILES, *leave, "--speed", "12"],
        "season": [*ROUTES[:2], "--vessel", FILES[1], "--forecast", str(past), "--from",
                   "2023-01-01", "--to", "2023-12-31", "--every", "12", "--speed", "12",
                   "-o", str(folder / "odds")],
        "hindcast": [str(past), "-o", str(folder / "turned.nc")],
    }  # fmt: skip


@pytest.mark.slow
@pytest.mark.parametrize("terminal", [False, True])
@pytest.mark.parametrize("command", ["plan", "heel", "suggest", "season", "hindcast"])
def test_no_command_is_silent_for_long(tmp_path, command, terminal):
    """How long, and how near the first estimate comes, is measured by bench_progress.py."""
    made = heard([command, *long_runs(tmp_path)[command]], terminal=terminal)
    assert made.code == 0, made.text
    assert made.longest_gap_s < BUSY_S
