"""What ``passage check --vessel`` says of her."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from numpy.testing import assert_allclose

import passage
from passage.inputs.vessel import read_vessel
from passage.report.text.vessel import vessel_facts, vessel_text

SAMPLE = Path(__file__).parents[2] / "sample_forecasts" / "brambling.toml"


@pytest.fixture(scope="module")
def facts():
    return vessel_facts(read_vessel(SAMPLE))


def test_the_offset_of_one_degree_costs_what_the_fins_are_charged_elsewhere(facts):
    found = passage.fin_offset(SAMPLE, heel_deg=1.0, speed_kn=facts["speeds_kn"])
    known = np.isfinite(facts["offset_l_per_h_for_one_deg"])
    assert known.any()
    # The price per moment squared is that of a small moment; 1 degree is near it.
    assert_allclose(
        facts["offset_l_per_h_for_one_deg"][known], found.fuel_l_per_h[known], rtol=0.15
    )


def test_the_heel_held_is_moment_over_stiffness(facts):
    vessel = read_vessel(SAMPLE)
    hull, fin = vessel.particulars, vessel.fins[0]
    most = fin.offset_share * min(fin.max_angle_deg, fin.stall_angle_deg)
    moment = facts["fin_moment_t_m_per_deg"] * most
    held = np.degrees(moment / (hull.displacement_t * hull.gm_m))
    assert_allclose(facts["heel_held_deg"], held, rtol=1e-9)


def test_text_shows_what_is_estimated_with_its_band(tmp_path):
    path = tmp_path / "least.toml"
    path.write_text(
        '[vessel]\nname = "X"\nlength_waterline_m = 44\nbeam_waterline_m = 9\ndraught_m = 2.8\n'
        "[roll]\nnatural_period_s = 7.8\n"
        "[propulsion]\nspeed_kn = [8, 12]\nfuel_l_per_h = [62, 205]\n",
        encoding="utf-8",
    )
    text = vessel_text(vessel_facts(read_vessel(path)))
    assert "fluid GM 0.98 m (estimated)" in text
    assert "vessel.gm_m = 0.976 m (0.806 to 1.2): from natural_period_s" in text
    assert "no fins" in text
