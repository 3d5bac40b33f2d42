"""Every command that prints a table fits 100 columns and 80, and takes the same three options."""

import json
from pathlib import Path

import pytest
from click.testing import CliRunner

from passage.cli.main import group

SAMPLES = Path(__file__).parents[2] / "sample_forecasts"
SPRING = [
    word for part in ("waves", "wind", "current")
    for word in ("--forecast", str(SAMPLES / f"spring_{part}.nc"))
]  # fmt: skip
VESSEL = ["--vessel", str(SAMPLES / "brambling_may.toml")]
STRAIGHT, OUTSIDE = (str(SAMPLES / f"{name}.csv") for name in ("straight", "outside"))
LEAVE = ["--departure", "2026-05-20T18:00Z"]


@pytest.fixture(scope="module")
def inputs(tmp_path_factory):
    """A plan and a log of it, a decay record, a hindcast."""
    from hindcast_maker import make_hindcast
    from review_logs import COLUMNS, csv_of, make_plan, rows_of

    folder = tmp_path_factory.mktemp("inputs")
    plan = make_plan(folder / "plan.json", draws=0)
    rows = rows_of(plan)
    (folder / "log.csv").write_text(csv_of(rows), encoding="utf-8")
    kept = [c for c in COLUMNS if c not in ("hours", "heel_deg", "fin_angle_rms_deg")]
    (folder / "averages.csv").write_text(csv_of(rows, kept), encoding="utf-8")
    sizes = [8.0 * 0.85**i * (-1) ** i for i in range(12)]
    lines = ["time_s,roll_deg", *(f"{3.9 * i:.1f},{size:.2f}" for i, size in enumerate(sizes))]
    (folder / "decay.csv").write_text("\n".join(lines) + "\n", encoding="utf-8")
    make_hindcast(folder / "past.nc", days=70)
    return folder


def words_of(command: str, folder: Path) -> list[str]:
    log = str(folder / "log.csv")
    return {
        "plan": ["plan", OUTSIDE, *VESSEL, *SPRING, *LEAVE, "--speed", "10", "--draws", "0"],
        "compare": ["compare", STRAIGHT, OUTSIDE, *VESSEL, *SPRING, "--from",
                    "2026-05-20T06:00Z", "--to", "2026-05-21T18:00Z", "--every", "12",
                    "--speed", "10"],
        "heel": ["heel", OUTSIDE, *VESSEL, *SPRING, *LEAVE, "--speed", "10"],
        "suggest": ["suggest", STRAIGHT, *VESSEL, *SPRING, *LEAVE, "--speed", "12",
                    "--cell", "60"],
        "season": ["season", STRAIGHT, *VESSEL, "--forecast", str(folder / "past.nc"), "--from",
                   "2023-01-01", "--to", "2023-02-28", "--every", "48", "--speed", "12",
                   "-o", str(folder / "odds")],
        "review": ["review", log, "--plan", str(folder / "plan.json")],
        "calibrate": ["calibrate", str(folder / "averages.csv"), "--vessel",
                      str(SAMPLES / "brambling.toml"), "--forecast",
                      str(SAMPLES / "biscay_waves.nc")],
        "decay": ["decay", str(folder / "decay.csv"), *VESSEL],
        "check": ["check", *[SPRING[i] for i in (1, 3, 5)], *VESSEL, "--route", OUTSIDE],
    }[command]  # fmt: skip


COMMANDS = (
    "plan", "compare", "heel", "suggest", "season", "review", "calibrate", "decay", "check",
)  # fmt: skip


def run(words: list[str], monkeypatch, columns: int):
    monkeypatch.setenv("COLUMNS", str(columns))
    result = CliRunner().invoke(group, words, standalone_mode=False)
    if result.exception is not None:
        raise result.exception
    return result


LONG = ("heel", "suggest", "season")
#: Words of what a heading means, beneath the table.
MEANT = {
    "plan": "significant wave height",
    "compare": "litres",
    "heel": "smallest GM on the way",
    "review": "main engines only",
    "calibrate": "low end of its band",
}


@pytest.mark.parametrize(
    "command", [pytest.param(c, marks=[pytest.mark.slow] if c in LONG else []) for c in COMMANDS]
)
def test_the_text_fits(inputs, monkeypatch, command):
    words = words_of(command, inputs)
    usual = run(words, monkeypatch, 100).stdout
    narrow = run(words, monkeypatch, 80).stdout
    assert MEANT.get(command, "") in " ".join(usual.split())
    assert usual.strip()
    assert [line for line in usual.splitlines() if len(line) > 100] == []
    assert [line for line in narrow.splitlines() if len(line) > 80] == []
    # Narrower than 80 is served as 80, and wider than 100 as 100.
    if command in ("review", "decay", "check"):
        assert run(words, monkeypatch, 40).stdout == narrow
        assert run(words, monkeypatch, 250).stdout == usual
        quiet = run([*words, "--quiet"], monkeypatch, 100).stdout
        assert quiet.strip()
        assert (
            len(quiet) <= len(usual) <= len(run([*words, "--wide"], monkeypatch, 80).stdout) + 200
        )


@pytest.mark.parametrize("command", COMMANDS)
def test_every_command_has_the_same_three_screen_options(command):
    """Their words are the same wherever they are offered."""
    found = {p.name: p for p in group.get_command(None, command).params}
    like = {p.name: p for p in group.get_command(None, "plan").params}
    assert found["wide"].opts == ["--wide"]
    assert found["wide"].help == like["wide"].help
    flags = [p for p in group.get_command(None, command).params if p.name == "detail"]
    assert [p.opts for p in flags] == [["--quiet"], ["--verbose"]]


@pytest.mark.parametrize("command", ["plan", "compare"])
def test_json_stays_clean(inputs, monkeypatch, command):
    words = [*words_of(command, inputs), "--format", "json"]
    result = run(words, monkeypatch, 100)
    assert json.loads(result.stdout)["verdict"]["do"]
