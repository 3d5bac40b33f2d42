"""Calibration: recovers a known truth from a noisy log, and refuses what it cannot tell.

The logs are simulated with the physics of the plan (``calibration_scenario.py``), so
these tests say that the fitting works, not that the physics is right.
"""

from __future__ import annotations

import functools
import importlib.util
import re
import sys
from pathlib import Path
from xml.etree import ElementTree

import numpy as np
import pytest
from click.testing import CliRunner
from numpy.testing import assert_allclose

from passage.errors import LogError
from passage.inputs.records.log import parse_log
from passage.inputs.vessel import update_vessel_text, vessel_from_text
from passage.physics.roll.excitation import RollExcitation
from passage.physics.waves.table import SpeedTables
from passage.planning.calibrate import model as calibrate_model
from passage.planning.calibrate.calibrate import calibrate
from passage.planning.calibrate.fit import Parameter, fit_logarithms


def _scenario():
    """The neighbouring module; tests are imported without a package."""
    path = Path(__file__).parents[2] / "calibration_scenario.py"
    spec = importlib.util.spec_from_file_location("calibration_scenario", path)
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    sys.modules["calibration_scenario"] = module
    spec.loader.exec_module(module)
    return module


scenario = _scenario()


@pytest.fixture(scope="module", autouse=True)
def shared_tables():
    """Spectral tables depend on the hull only: build them once for all tests."""
    tables: dict[object, SpeedTables] = {}

    def shared(kernel):
        key: object = kernel
        if isinstance(kernel, RollExcitation):
            key = (kernel.nodes_rad_s.tobytes(), kernel.beam_m, kernel.slope_coefficient)
        return tables.setdefault(key, SpeedTables(kernel))

    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(calibrate_model, "SpeedTables", shared)
        patch.setattr(
            calibrate_model,
            "wave_resistance_kernel",
            functools.cache(calibrate_model.wave_resistance_kernel),
        )
        yield


@pytest.fixture(scope="module")
def voyages():
    return scenario.Voyages()


@pytest.fixture(scope="module")
def vessel():
    return vessel_from_text(scenario.file_text())


def truth():
    """True values by path of the vessel file."""
    true = vessel_from_text(scenario.true_text())
    values = {
        ("roll", "wave_slope_coefficient"): true.roll.wave_slope_coefficient,
        ("roll", "damping_ratio"): true.roll.damping_ratio,
        ("roll", "damping_ratio_per_kn"): true.roll.damping_ratio_per_kn,
        ("roll", "quadratic_damping"): true.roll.quadratic_damping,
        ("fins", 0, "efficiency"): true.fins[0].efficiency,
    }
    for at, fuel in enumerate(true.propulsion.fuel_l_per_h):
        values[("propulsion", "fuel_l_per_h", at)] = fuel
    return values


def inside(calibration, values):
    return all(key.low <= values[key.path] <= key.high for key in calibration.keys)


# --- the whole -----------------------------------------------------------------


def test_a_log_without_noise_gives_the_truth_back(voyages, vessel):
    log = parse_log(voyages.csv(0, noise=0.0), file="log.csv")
    found = calibrate(log, vessel, voyages)
    values = truth()
    assert {key.path for key in found.keys} == set(values)
    for key in found.keys:
        # The log is written to four digits.
        assert_allclose(key.new, values[key.path], rtol=2e-3, err_msg=key.words)
    assert found.roll.scatter("after") < 1e-3 < found.roll.scatter("before")
    assert found.fuel.scatter("after") < 1e-3 < found.fuel.scatter("before")


def test_noisy_logs_hold_the_truth_in_their_bands_in_nine_of_ten_seeds(voyages, vessel):
    values, good = truth(), 0
    for seed in range(10):
        found = calibrate(parse_log(voyages.csv(seed), file="log.csv"), vessel, voyages)
        assert {key.path for key in found.keys} == set(values), f"seed {seed}: {found.refused}"
        good += inside(found, values)
        # The bands must be of use: the file's own values lie outside most of them.
        outside = [not key.low <= key.old <= key.high for key in found.keys]
        assert np.mean(outside) > 0.5
    assert good >= 9


def test_the_sea_noted_in_the_log_does_as_well(voyages, vessel):
    log = parse_log(voyages.csv(1, own_sea=True), file="log.csv")
    own = calibrate(log, vessel)
    other = calibrate(parse_log(voyages.csv(1), file="log.csv"), vessel, voyages)
    for one, two in zip(own.keys, other.keys, strict=True):
        assert_allclose(one.new, two.new, rtol=1e-6, err_msg=one.words)


def test_a_sea_of_the_wrong_kind_is_doubted(voyages, vessel):
    text = voyages.csv(1, own_sea=True).replace(",swell", ",").replace(",wind sea", ",")
    found = calibrate(parse_log(text, file="log.csv"), vessel)
    assert "may not be the sea she was in" in " ".join(found.notes)


def test_the_new_file_has_the_values_and_says_where_they_come_from(voyages, vessel):
    log = parse_log(voyages.csv(1), file="log.csv")
    found = calibrate(log, vessel, voyages)
    text = found.new_text(scenario.file_text())
    new = vessel_from_text(text)
    # What the log does not tell from the old value stays as it was.
    by_path = {key.path: key.new if key.differs else key.old for key in found.keys}
    assert any(key.differs for key in found.keys)
    assert_allclose(
        new.roll.wave_slope_coefficient, by_path[("roll", "wave_slope_coefficient")], rtol=1e-3
    )
    assert_allclose(new.fins[0].efficiency, by_path[("fins", 0, "efficiency")], rtol=1e-3)
    fuel = [by_path[("propulsion", "fuel_l_per_h", at)] for at in range(len(by_path) - 5)]
    assert_allclose(new.propulsion.fuel_l_per_h, fuel, rtol=1e-3)
    assert "from log.csv, 95 % band" in text
    # A second round from the new file finds nothing left to change.
    assert not any(key.differs for key in calibrate(log, new, voyages).keys)


@pytest.mark.parametrize("list_deg", [0.0, 1.5, -3.0])
def test_a_log_of_the_vessel_as_filed_gives_the_file_back(list_deg):
    """Wind heel, list and the fins' offset are priced as the plan prices them."""
    text = update_vessel_text(scenario.file_text(), {("loading", "list_deg"): list_deg})
    ship = vessel_from_text(text)
    sailed = scenario.Voyages(true=ship)
    found = calibrate(parse_log(sailed.csv(0, noise=0.0), file="log.csv"), ship, sailed)
    for key in found.keys:
        assert_allclose(key.new, key.old, rtol=2e-3, err_msg=key.words)
    assert not any(key.differs for key in found.keys)
    assert found.new_text(text) == text


def test_speeds_never_logged_have_wider_bands(voyages, vessel):
    found = calibrate(parse_log(voyages.csv(2), file="log.csv"), vessel, voyages)
    share = {
        vessel.propulsion.speed_kn[key.path[-1]]: (key.high - key.low) / key.new
        for key in found.keys
        if key.path[0] == "propulsion"
    }
    # Logged are 8 to 13 kn.
    assert share[6.0] > 2.0 * share[8.0]
    assert share[15.0] > 1.5 * share[13.0]


# --- what a log cannot tell ----------------------------------------------------


def test_without_active_fins_their_efficiency_is_refused(voyages, vessel):
    rows = np.flatnonzero(~voyages.active)
    found = calibrate(parse_log(voyages.csv(0, rows), file="l"), vessel, voyages)
    assert "0 intervals with the fins active" in dict(found.refused)["the fins' efficiency"]
    assert ("fins", 0, "efficiency") not in {key.path for key in found.keys}


def test_without_centred_fins_their_efficiency_is_refused(voyages, vessel):
    rows = np.flatnonzero(voyages.active)
    found = calibrate(parse_log(voyages.csv(0, rows), file="l"), vessel, voyages)
    assert "centred to compare with" in dict(found.refused)["the fins' efficiency"]


def test_one_fin_use_in_swell_cannot_tell_damping_from_wave_slope(voyages, vessel):
    rows = np.flatnonzero(voyages.swell & ~voyages.active)
    found = calibrate(parse_log(voyages.csv(0, rows), file="l"), vessel, voyages)
    reason = dict(found.refused)["the hull's damping"]
    assert "cannot separate it from the wave slope coefficient" in reason
    # The others include the doubt of the damping that is kept: the truth stays inside.
    values = truth()
    roll_keys = [key for key in found.keys if key.path[0] != "propulsion"]
    assert roll_keys
    for key in roll_keys:
        assert key.low <= values[key.path] <= key.high, key.words


def test_one_speed_gives_the_level_of_fuel_only(voyages, vessel):
    rows = np.flatnonzero(voyages.speed_kn == 11.0)
    found = calibrate(parse_log(voyages.csv(0, rows), file="l"), vessel, voyages)
    assert "speeds differ by 0 %" in dict(found.refused)["its growth with speed"]
    factors = {round(key.new / key.old, 12) for key in found.keys if key.path[0] == "propulsion"}
    assert len(factors) == 1


def test_a_log_that_determines_nothing_is_refused_with_every_reason(voyages, vessel):
    header = "time,speed_through_water_kn,fuel_l_per_h,roll_rms_deg,fins,heading_deg\n"
    text = header + "2026-03-01T00:30Z,11,180,2,active,90\n" * 20
    with pytest.raises(LogError) as caught:
        calibrate(parse_log(text, file="log.csv"), vessel)
    message = str(caught.value)
    assert "log.csv: nothing can be fitted" in message
    assert "0 intervals have roll, fin use, heading, sea and 3 kn or more" in message
    assert "0 intervals have fuel" in message


def test_a_slip_in_the_log_is_named(voyages, vessel):
    lines = voyages.csv(2).splitlines()
    cells = lines[20].split(",")
    measured = float(cells[6])
    cells[6] = str(3 * measured)
    lines[20] = ",".join(cells)
    found = calibrate(parse_log("\n".join(lines), file="l"), vessel, voyages)
    assert "roll is far from the fit in lines 21" in " ".join(found.notes)
    # A decimal point in the wrong place is beyond any scatter: nothing is fitted.
    cells[6] = str(10 * measured)
    lines[20] = ",".join(cells)
    with pytest.raises(LogError, match=r"far from the other intervals \(line 21"):
        calibrate(parse_log("\n".join(lines), file="l"), vessel, voyages)


def test_the_formula_stays_where_it_fits(voyages):
    """A vessel whose slope is calculated, and whose log follows that, keeps it so."""
    text = scenario.VESSEL.read_text(encoding="utf-8")
    formula = vessel_from_text(text)
    assert formula.roll.wave_slope_coefficient == "strip"
    other = scenario.Voyages(60, formula)
    found = calibrate(parse_log(other.csv(3), file="l"), formula, other)
    assert ("roll", "wave_slope_coefficient") not in {key.path for key in found.keys}
    assert "the wave slope coefficient" in dict(found.refused)


def test_a_vessel_without_fins_needs_no_fins_column(voyages):
    text = scenario.file_text()
    start, end = text.index("[[fins]]"), text.index("[propulsion]")
    bare = vessel_from_text(text[:start] + text[end:])
    lines = voyages.csv(0, own_sea=True).splitlines()
    column = lines[0].split(",").index("fins")
    without = [
        ",".join(cell for at, cell in enumerate(line.split(",")) if at != column) for line in lines
    ]
    found = calibrate(parse_log("\n".join(without), file="l"), bare)
    assert dict(found.refused)["the fins' efficiency"] == "the vessel file has no fins"
    assert ("propulsion", "fuel_l_per_h", 0) in {key.path for key in found.keys}


# --- least squares -------------------------------------------------------------

A = Parameter(name="a", words="the first", worst_error=0.5, doubt=0.1)
B = Parameter(name="b", words="the second", worst_error=0.5, doubt=0.1)


def test_straight_line_against_the_textbook():
    """Standard errors of intercept and slope, closed form (any statistics text)."""
    rng = np.random.default_rng(3)
    x = np.linspace(-1, 1, 30)
    y = 0.3 - 0.2 * x + 0.05 * rng.standard_normal(30)
    fit = fit_logarithms(lambda s: s["a"] + s["b"] * x, y, [A, B])
    slope, intercept = np.polyfit(x, y, 1)
    assert_allclose([fit.shift["a"], fit.shift["b"]], [intercept, slope], rtol=1e-5)
    scatter = np.sqrt(np.sum((y - intercept - slope * x) ** 2) / 28)
    assert_allclose(fit.standard_error("a"), scatter / np.sqrt(30), rtol=1e-5)
    assert_allclose(fit.standard_error("b"), scatter / np.sqrt(np.sum(x**2)), rtol=1e-5)


def test_parameters_that_say_the_same_are_not_both_fitted():
    x = np.linspace(0, 1, 40)
    rng = np.random.default_rng(4)
    y = 0.2 + 0.1 * rng.standard_normal(40)
    fit = fit_logarithms(lambda s: (s["a"] + 0.9 * s["b"]) * np.ones_like(x), y, [A, B])
    assert fit.fitted == ("a",)
    assert "cannot separate it from the first" in fit.refused["b"]
    # The second's doubt, 0.1, goes into the first's error with weight 0.9.
    alone = fit.residual_rms / np.sqrt(40)
    assert_allclose(fit.standard_error("a"), np.hypot(alone, 0.09), rtol=1e-4)


def test_what_has_no_effect_or_too_wide_a_band_is_refused():
    y = np.zeros(10)
    fit = fit_logarithms(lambda s: s["a"] + 0.0 * s["b"] + y, y, [A, B])
    assert fit.refused["b"] == "the log does not depend on it"
    rng = np.random.default_rng(5)
    noisy = rng.standard_normal(12)
    x = np.linspace(-1, 1, 12)
    wide = fit_logarithms(lambda s: s["a"] + 0.2 * s["b"] * x, noisy, [A, B])
    assert "standard error would be" in wide.refused["b"]


def test_too_few_points_are_reported():
    fit = fit_logarithms(lambda s: s["a"] + np.zeros(3), np.zeros(3), [A])
    assert "only 3 intervals" in fit.refused["a"]
    assert fit.shift["a"] == 0.0


# --- the command ---------------------------------------------------------------


def _write(tmp_path, voyages):
    log, vessel = tmp_path / "log.csv", tmp_path / "vessel.toml"
    log.write_text(voyages.csv(1, own_sea=True), encoding="utf-8")
    vessel.write_text(scenario.file_text(), encoding="utf-8")
    return log, vessel


def test_command_writes_vessel_and_picture(tmp_path, voyages):
    from passage.cli.calibrate import command

    log, vessel = _write(tmp_path, voyages)
    new, picture = tmp_path / "new.toml", tmp_path / "fit.svg"
    run = CliRunner().invoke(
        command,
        [str(log), "--vessel", str(vessel), "-o", str(new), "--plot", str(picture)],
        catch_exceptions=False,
    )
    assert run.exit_code == 0, run.output
    said = re.match(r"The log changes (\d+) of the (\d+) numbers fitted", run.stdout)
    assert said is not None
    assert 0 < int(said[1]) < int(said[2])
    # Every row says which value the new file has, and as many are changed as the answer says.
    rows = [line.split()[-1] for line in run.stdout.splitlines() if line.split()]
    assert rows.count("changed") == int(said[1])
    assert rows.count("kept") == int(said[2]) - int(said[1])
    assert "fuel at 11 kn" in run.stdout
    assert "95 %" in run.stdout
    assert "use the sea noted in the log" in run.stderr
    vessel_from_text(new.read_text(encoding="utf-8"))
    drawn = picture.read_text(encoding="utf-8")
    root = ElementTree.fromstring(drawn)
    assert root.tag == "{http://www.w3.org/2000/svg}svg"
    words = "".join(root.itertext())
    for word in ("measured fuel, l/h", "computed roll rms, degrees", "before, fins active"):
        assert word in words
    # Twice one mark per interval and key of the legend: before and after, roll and fuel.
    marks = [p for p in root.iter("{http://www.w3.org/2000/svg}path") if p.get("fill")]
    assert len(marks) > 4 * 10


def test_picture_as_png_is_refused_with_the_kinds_there_are(tmp_path, voyages):
    from passage.cli.calibrate import command

    log, vessel = _write(tmp_path, voyages)
    plot = tmp_path / "fit.png"
    run = CliRunner().invoke(command, [str(log), "--vessel", str(vessel), "--plot", str(plot)])
    assert run.exit_code == 2
    assert ".svg or .html" in run.output
    assert not plot.exists()


def test_command_does_not_overwrite_without_force(tmp_path, voyages):
    from passage.cli.calibrate import command
    from passage.errors import OutputError

    log, vessel = _write(tmp_path, voyages)
    earlier = tmp_path / "earlier.toml"
    earlier.write_text("kept", encoding="utf-8")
    before = vessel.read_text(encoding="utf-8")
    # An input is never written over; any other file only with --force.
    for target, words in ((earlier, "--force"), (vessel, "given as --vessel")):
        arguments = [str(log), "--vessel", str(vessel), "-o", str(target)]
        with pytest.raises(OutputError, match=words):
            CliRunner().invoke(command, arguments, catch_exceptions=False)
    assert earlier.read_text(encoding="utf-8") == "kept"
    assert vessel.read_text(encoding="utf-8") == before
