"""What the commands say of motions: where they are doubtful, and for which hull they were made."""

from __future__ import annotations

import json
import re
from pathlib import Path

import numpy as np
import pytest
from click.testing import CliRunner

from passage.cli.main import group
from passage.inputs.vessel import read_vessel
from passage.planning.voyage.strips import vessel_sections

VESSEL = Path(__file__).parents[2] / "sample_forecasts" / "brambling.toml"
TEXT = VESSEL.read_text(encoding="utf-8")


def run(*arguments):
    result = CliRunner().invoke(group, [str(a) for a in arguments], catch_exceptions=False)
    assert result.exit_code == 0, result.output
    return result.output


@pytest.fixture
def doubts(make_forecast, maker, tmp_path):
    """Sentences of doubt in a plan going north in one sea, and the cautions' severity."""

    def ask(height, period, from_deg, speed, vessel=TEXT):
        sea = make_forecast(maker.sea(height, period, from_deg))
        route, hull = tmp_path / "way.csv", tmp_path / "hull.toml"
        route.write_text("name,lat,lon\nA,48.4,-7.0\nB,49.0,-7.0\n", encoding="utf-8")
        hull.write_text(vessel, encoding="utf-8")
        found = json.loads(
            run(
                *("plan", route, "--vessel", hull, "--forecast", sea, "--speed", speed),
                *("--departure", "2026-03-14T00:00Z", "--format", "json"),
            )
        )
        said = [c for c in found["cautions"] if c["code"] == "motions_doubt"]
        assert {c["severity"] for c in said} <= {"note"}
        return " ".join(c["text"] for c in said)

    return ask


def test_a_plan_marks_where_strip_theory_ends(doubts):
    """12 kn is 6.2 m/s: a wave as fast has 3.95 s, and runs 24 m, more than half of 44 m."""
    riding = doubts(1.0, 3.95, 180.0, 12)
    assert "carried along" in riding
    assert "half the waterline" not in riding
    # The same wave from ahead is met at its proper time.
    assert doubts(1.0, 3.95, 0.0, 12) == ""
    short = doubts(0.5, 3.6, 0.0, 12)
    assert "shorter than half the waterline" in short
    assert "carried along" not in short
    assert doubts(1.0, 8.0, 0.0, 12) == ""


def test_a_plan_marks_speed_beyond_froude_number_two_fifths(doubts):
    """16.1 kn for 44 m."""
    fast = re.sub(r"(?m)^speed_kn     = .*$", "speed_kn = [6.0, 9.0, 12.0, 15.0, 17.0]", TEXT)
    fast = re.sub(
        r"(?m)^fuel_l_per_h = .*$", "fuel_l_per_h = [28.0, 88.0, 190.0, 330.0, 480.0]", fast
    )
    assert fast.count("17.0]") == 1
    assert "Froude number 0.4" in doubts(0.2, 8.0, 90.0, 16.5, fast)
    assert doubts(0.2, 8.0, 90.0, 15.5, fast) == ""


def test_closed_forms_used_as_fallback_are_not_called_conservative(doubts):
    odd = re.sub(r"(?m)^midship_coefficient = \S+", "midship_coefficient = 0.50", TEXT)
    assert "too small, vertical acceleration by a factor of up to four" in doubts(
        1.0, 7.0, 0.0, 12, odd
    )
    assert "too small" not in doubts(1.0, 7.0, 90.0, 12, odd)


def hydrostatics_of(vessel):
    """What, with its unit: by the sections, by the file (None where it says nothing)."""
    block = run("check", "--vessel", vessel).partition("Hydrostatics")[2].split("\n\n")[0]
    rows = re.findall(r"(?m)^  (\S.*?)\s+(-?[\d.]+)\s+(-|[\d.]+)$", block)
    return {
        what: (float(drawn), None if given == "-" else float(given)) for what, drawn, given in rows
    }


def test_check_shows_hydrostatics_beside_those_of_the_file(tmp_path):
    text = run("check", "--vessel", VESSEL)
    assert re.search(r"Hydrostatics\s+sections\s+file", text)
    assert re.search(r"displacement in sea water, t\s+550\s+550", text)
    rows = hydrostatics_of(VESSEL)
    assert len(rows) == 9
    for what, (drawn, given) in rows.items():
        assert given is None or drawn == pytest.approx(given, rel=0.04), what


def test_a_hull_by_her_lines_plans_as_by_her_coefficients(tmp_path, make_forecast, maker):
    """Sections as tables of the file: check shows their hydrostatics, the plan her motions."""
    s = vessel_sections(read_vessel(VESSEL))
    rows = [(s.aft_x_m, *s.aft), *zip(s.x_m, s.breadth_m, s.draught_m, s.area_m2, strict=True)]
    rows.append((22.0, 0.0, 0.0, 0.0))
    keys = ("x_m", "breadth_m", "draught_m", "area_m2")
    tables = "\n".join(
        "[[vessel.sections]]\n"
        + "\n".join(f"{k} = {float(v):.6g}" for k, v in zip(keys, row, strict=True))
        for row in rows
    )
    lines = tmp_path / "lines.toml"
    lines.write_text(TEXT.replace("[roll]", f"{tables}\n\n[roll]", 1), encoding="utf-8")
    plain, drawn = hydrostatics_of(VESSEL), hydrostatics_of(lines)
    assert len(drawn) == len(plain) == 9
    for what, (value, _) in plain.items():
        assert drawn[what][0] == pytest.approx(value, rel=0.02, abs=0.05), what
    route = tmp_path / "way.csv"
    route.write_text("name,lat,lon\nA,48.4,-7.0\nB,49.0,-7.0\n", encoding="utf-8")
    sea = make_forecast(maker.sea(1.5, 7.0, 20.0))
    legs = [
        json.loads(
            run(
                *("plan", route, "--vessel", vessel, "--forecast", sea, "--speed", 12),
                *("--departure", "2026-03-14T00:00Z", "--format", "json"),
            )
        )["legs"][0]
        for vessel in (VESSEL, lines)
    ]
    for name in ("vertical_acceleration_rms_g", "roll_centred_rms_deg", "motion_sickness_percent"):
        first, second = (leg[name] for leg in legs)
        assert np.isfinite(first)
        assert second == pytest.approx(first, rel=0.05), name
