"""Roll-decay records: what is refused, what the fit recovers, the published example."""

from __future__ import annotations

import json
import tomllib
from pathlib import Path

import numpy as np
import pytest
from click.testing import CliRunner
from numpy.testing import assert_allclose
from scipy.integrate import solve_ivp

from passage.cli.decay import command
from passage.errors import LogError
from passage.inputs.records.decay import fit_decay, read_decay_record
from passage.inputs.vessel import read_vessel

PERIOD_S = 7.8
SAMPLE = Path(__file__).parents[3] / "sample_forecasts" / "brambling.toml"


def simulate(zeta, b, first_deg, count, *, period_s=PERIOD_S):
    """Times and signed sizes (deg) of free-decay peaks: the roll equation by scipy."""
    w0 = 2 * np.pi / period_s

    def equation(_, y):
        return [y[1], -2 * zeta * w0 * y[1] - b * abs(y[1]) * y[1] - w0**2 * y[0]]

    def turning(_, y):
        return y[1]

    start = [np.radians(first_deg), 0.0]
    done = solve_ivp(
        equation, [0, period_s * count / 2], start, events=turning, rtol=1e-10, atol=1e-13
    )
    times, sizes = done.t_events[0], np.degrees(done.y_events[0][:, 0])
    later = times > 0.1
    return np.r_[0.0, times[later]][:count], np.r_[first_deg, sizes[later]][:count]


def write(path, times, rolls, header="time_s,roll_deg"):
    rows = [f"{t:.4f},{r:.5f}" for t, r in zip(times, rolls, strict=True)]
    path.write_text("\n".join([header, *rows]) + "\n", encoding="utf-8")
    return path


@pytest.fixture
def record(tmp_path):
    return tmp_path / "decay.csv"


@pytest.mark.parametrize(("zeta", "b"), [(0.035, 0.3), (0.02, 0.6), (0.08, 0.1)])
@pytest.mark.parametrize("list_deg", [0.0, 0.7])
def test_known_damping_comes_back(record, zeta, b, list_deg):
    times, rolls = simulate(zeta, b, 15.0, 14)
    fit = fit_decay(read_decay_record(write(record, times, rolls + list_deg)))
    # The closed form is right to first order in b x amplitude (0.16 rad at most here).
    assert_allclose(fit.damping_ratio, zeta, rtol=0.01)
    assert_allclose(fit.quadratic_damping, b, rtol=0.02)
    # Quadratic damping moves the first half cycle, from release, by about 1 part in 1000.
    assert_allclose(fit.natural_period_s, PERIOD_S, rtol=1.5e-3)
    assert_allclose(fit.list_deg, list_deg, atol=0.01)


def test_sizes_without_sign_and_one_side_only_give_the_same(record):
    times, rolls = simulate(0.04, 0.3, 16.0, 16)
    both = fit_decay(read_decay_record(write(record, times, rolls)))
    plain = fit_decay(read_decay_record(write(record, times, np.abs(rolls))))
    one = fit_decay(read_decay_record(write(record, times[::2], rolls[::2]), same_side=True))
    for fit in (plain, one):
        assert_allclose(fit.damping_ratio, both.damping_ratio, rtol=0.02)
        assert_allclose(fit.quadratic_damping, both.quadratic_damping, rtol=0.02)
        assert_allclose(fit.natural_period_s, both.natural_period_s, rtol=1e-3)


def test_stated_uncertainty_covers_the_truth(record):
    # Standard uncertainty: within two of them in about 95 % of records; 60 records
    # with 0.15 deg of reading error, so fewer than 50 hits would be a 1 in 10^4 chance.
    times, rolls = simulate(0.035, 0.3, 15.0, 16)
    rng = np.random.default_rng(7)
    hits = {"zeta": 0, "b": 0, "period": 0}
    for _ in range(60):
        noisy = rolls + rng.normal(0.0, 0.15, rolls.size)
        late = times + rng.normal(0.0, 0.05, rolls.size)
        fit = fit_decay(read_decay_record(write(record, late, noisy)))
        hits["zeta"] += abs(fit.damping_ratio - 0.035) < 2 * fit.damping_ratio_sd
        hits["b"] += abs(fit.quadratic_damping - 0.3) < 2 * fit.quadratic_damping_sd
        off = abs(fit.natural_period_s - PERIOD_S)
        hits["period"] += off < 2 * fit.natural_period_sd_s + 0.0015 * PERIOD_S
    assert min(hits.values()) >= 50, hits


def test_published_decay_example(record):
    # IMO decay example (imorules GUID-6287D83E): a half cycle loses N phi^2, phi the mean
    # angle, N per degree below. Peaks are stepped with it; the fit must give back the
    # equivalent damping ratio N phi / pi of the table at its own angles.
    angle = [10.0, 12.5, 15.0, 17.5, 20.0, 22.5, 25.0]
    n = [0.0122, 0.0117, 0.0113, 0.0111, 0.0109, 0.0108, 0.0106]
    sizes = [27.0]
    while sizes[-1] > 9.0:
        after = sizes[-1]
        for _ in range(60):  # the mean angle holds the next peak: fixed point
            mean = (sizes[-1] + after) / 2
            after = sizes[-1] - np.interp(mean, angle, n) * mean**2
        sizes.append(after)
    sizes = np.array(sizes)
    times = PERIOD_S / 2 * np.arange(sizes.size)
    fit = fit_decay(read_decay_record(write(record, times, sizes)))
    got = fit.equivalent_ratio(np.radians([10.0, 15.0, 20.0, 25.0]))
    # 3 %: the loss by the mean angle and the closed form of the roll equation part by
    # (loss / 2 phi)^2, 1.6 % at 25 deg, and N has three digits and is no exact a/phi + b.
    assert_allclose(got, [0.039, 0.054, 0.069, 0.084], rtol=0.03)


def test_zero_damping_is_reported_not_invented(record):
    times, rolls = simulate(0.06, 0.0, 12.0, 10)
    noise = np.random.default_rng(3).normal(0.0, 0.05, rolls.size)
    fit = fit_decay(read_decay_record(write(record, times, rolls + noise)))
    assert fit.quadratic_damping < 3 * 0.1
    assert any("quadratic" in note for note in fit.notes)
    assert_allclose(fit.damping_ratio, 0.06, rtol=0.1)


GOOD = "time_s,roll_deg\n" + "".join(
    f"{3.9 * i:.1f},{(-1) ** i * 12 * 0.85**i:.3f}\n" for i in range(9)
)

BROKEN = {
    "empty": ("", "is empty"),
    "header": (GOOD.replace("roll_deg", "roll"), "no roll_deg"),
    "too short": ("\n".join(GOOD.splitlines()[:5]), "4 peaks; at least 6"),
    "text": (GOOD.replace("-10.200", "ten"), ":3: roll_deg = 'ten': not a finite number"),
    "nan": (GOOD.replace("-10.200", "nan"), "not a finite number"),
    "decimal comma": (GOOD.replace("3.9,-10.200", '"3,9",-10.2'), "decimals with a point"),
    "time order": (GOOD.replace("7.8,", "1.0,"), ":4: time_s = 1 s: not after"),
    "missing peak": (
        GOOD.replace("15.6,6.264\n", "").replace("19.5,-5.324\n", ""),
        "where the others",
    ),
    "two on a side": (GOOD.replace("-10.200", "10.200"), "side to side"),
    "growing": (
        "time_s,roll_deg\n"
        + "".join(f"{3.9 * i:.1f},{(-1) ** i * 5 * 1.1**i:.3f}\n" for i in range(9)),
        "do not die away",
    ),
    "steady": (
        "time_s,roll_deg\n" + "".join(f"{3.9 * i:.1f},{(-1) ** i * 5.0}\n" for i in range(9)),
        "do not die away",
    ),
    "huge": (
        "time_s,roll_deg\n"
        + "".join(f"{3.9 * i:.1f},{(-1) ** i * 90 * 0.8**i}\n" for i in range(9)),
        "under 60 deg",
    ),
}


@pytest.mark.parametrize("name", BROKEN)
def test_broken_record_gives_one_clear_message(record, name):
    text, words = BROKEN[name]
    record.write_text(text, encoding="utf-8")
    with pytest.raises(LogError) as caught:
        fit_decay(read_decay_record(record))
    assert words in str(caught.value)
    assert str(caught.value).startswith(str(record))
    assert caught.value.exit_code == 3


def test_missing_file_and_folder(tmp_path):
    for path, words in ((tmp_path / "none.csv", "does not exist"), (tmp_path, "is a folder")):
        with pytest.raises(LogError, match=words):
            read_decay_record(path)


def test_semicolons_comments_and_a_byte_order_mark_are_read(record):
    text = "\ufeff# calm water\n" + GOOD.replace(",", ";")
    record.write_text(text, encoding="utf-8")
    assert read_decay_record(record).time_s.size == 9


def test_command_writes_a_vessel_file_with_its_comments_kept(record, tmp_path):
    write(record, *simulate(0.045, 0.4, 14.0, 14, period_s=7.6))
    new = tmp_path / "new.toml"
    result = CliRunner().invoke(
        command, [str(record), "--vessel", str(SAMPLE), "-o", str(new)], catch_exceptions=False
    )
    assert result.exit_code == 0
    assert "damping_ratio" in result.stdout
    before, after = SAMPLE.read_text(encoding="utf-8"), new.read_text(encoding="utf-8")
    vessel = read_vessel(new)
    assert_allclose(vessel.roll.damping_ratio, 0.045, rtol=0.02)
    assert_allclose(vessel.roll.quadratic_damping, 0.4, rtol=0.03)
    assert_allclose(vessel.roll.natural_period_s, 7.6, rtol=2e-3)
    kept = [line for line in before.splitlines() if line in after.splitlines()]
    assert len(before.splitlines()) - len(kept) == 3
    assert "# damping_ratio was 0.035; fitted to decay.csv" in after
    old, now = tomllib.loads(before), tomllib.loads(after)
    for key in ("natural_period_s", "damping_ratio", "quadratic_damping"):
        old["roll"].pop(key)
        now["roll"].pop(key)
    assert old == now


def test_command_under_way_sets_the_growth_with_speed(record, tmp_path):
    write(record, *simulate(0.075, 0.3, 14.0, 12))
    result = CliRunner().invoke(
        command,
        [str(record), "--vessel", str(SAMPLE), "--speed", "10", "--format", "json"],
        catch_exceptions=False,
    )
    answer = json.loads(result.stdout)
    # (0.075 - 0.035) / 10 kn, hand-worked.
    assert list(answer["vessel_keys"]) == ["roll.damping_ratio_per_kn"]
    assert_allclose(answer["vessel_keys"]["roll.damping_ratio_per_kn"], 0.004, rtol=0.03)


def test_command_reports_a_period_half_the_vessel_files(record):
    write(record, *simulate(0.04, 0.3, 14.0, 12, period_s=3.9))
    result = CliRunner().invoke(
        command, [str(record), "--vessel", str(SAMPLE)], catch_exceptions=False
    )
    assert "--same-side" in result.stderr


def test_command_does_not_replace_a_file(record, tmp_path):
    from passage.errors import OutputError

    write(record, *simulate(0.04, 0.3, 14.0, 12))
    there = tmp_path / "there.toml"
    there.write_text("mine", encoding="utf-8")
    result = CliRunner().invoke(command, [str(record), "--vessel", str(SAMPLE), "-o", str(there)])
    assert isinstance(result.exception, OutputError)
    assert there.read_text(encoding="utf-8") == "mine"


def test_a_list_that_drifts_is_taken_out_and_reported(record):
    times, rolls = simulate(0.04, 0.3, 15.0, 16)
    fit = fit_decay(read_decay_record(write(record, times, rolls + 1.0 + 2.0 * times / 60.0)))
    assert_allclose(fit.damping_ratio, 0.04, rtol=0.02)
    assert_allclose(fit.quadratic_damping, 0.3, rtol=0.03)
    assert_allclose(fit.drift_deg_per_min, 2.0, rtol=0.03)
    assert any("drifts by +2.0" in note for note in fit.notes)
    steady = fit_decay(read_decay_record(write(record, times, rolls + 1.0)))
    assert steady.drift_deg_per_min == 0.0


def test_sizes_of_both_sides_without_signs_show_a_list(record):
    times, rolls = simulate(0.04, 0.3, 15.0, 16)
    fit = fit_decay(read_decay_record(write(record, times, np.abs(rolls + 0.2))))
    assert_allclose(fit.damping_ratio, 0.04, rtol=0.02)
    assert_allclose(abs(fit.list_deg), 0.2, atol=0.02)
    assert any("every other peak is larger" in note for note in fit.notes)


def test_peaks_of_one_side_report_the_effect_of_a_list(record):
    times, rolls = simulate(0.04, 0.3, 14.0, 16)
    path = write(record, times[::2], np.round(rolls[::2] + 1.0, 1))
    fit = fit_decay(read_decay_record(path, same_side=True))
    words = " ".join(fit.notes)
    assert "peaks of one side cannot separate a list from roll" in words
    # As read, the damping is far too low; on the list it is some so much higher.
    middle = np.radians(5.0)
    true = 0.04 + 4.0 / (3.0 * np.pi) * 0.3 * middle
    assert fit.equivalent_ratio(middle) < 0.85 * true
    more = float(words.split("the damping would be ")[1].split(" %")[0]) / 100.0
    assert_allclose(fit.equivalent_ratio(middle) * (1.0 + more), true, rtol=0.12)
    out = CliRunner().invoke(command, [str(path), "--same-side"])
    assert "no list can be seen" in out.output
    assert "two standard deviations" in out.output


def test_the_band_of_the_table_is_two_standard_deviations(record):
    times, rolls = simulate(0.04, 0.3, 15.0, 14)
    path = write(record, times, rolls + np.random.default_rng(3).normal(0.0, 0.15, rolls.size))
    fit = fit_decay(read_decay_record(path))
    line = next(
        one for one in CliRunner().invoke(command, [str(path)]).output.splitlines()
        if one.startswith("damping_ratio")
    )  # fmt: skip
    assert float(line.split()[2]) == pytest.approx(2.0 * fit.damping_ratio_sd, abs=6e-5)


def test_patterned_residuals_are_warned_of_and_noise_is_not(record):
    times, rolls = simulate(0.04, 0.3, 15.0, 16)
    warned = 0
    for seed in range(20):
        noise = np.random.default_rng(seed).normal(0.0, 0.15, rolls.size)
        fit = fit_decay(read_decay_record(write(record, times, rolls + noise)))
        warned += any("is not noise" in note for note in fit.notes)
    assert warned <= 2
    # Another slow motion in it, or a scale that is 8 % off on one side.
    slow = rolls + 0.5 * np.sin(2.0 * np.pi * times / 33.0)
    scaled = np.where(rolls > 0.0, 1.08, 1.0) * rolls
    for wrong in (slow, scaled):
        fit = fit_decay(read_decay_record(write(record, times, wrong)))
        assert any("is not noise" in note for note in fit.notes)
