"""A file with only what nobody can guess: what is filled in, with which band, and what not."""

from __future__ import annotations

import pytest
from numpy.testing import assert_allclose

from passage.errors import VesselError
from passage.inputs.vessel import vessel_from_text

#: Eleven numbers and a name: length, beam, draught, period, fin area, three points.
ELEVEN = """
[vessel]
name = "Evening"
length_waterline_m = 44.0
beam_waterline_m = 9.0
draught_m = 2.8
[roll]
natural_period_s = 7.8
[[fins]]
area_m2 = 2.0
[propulsion]
speed_kn = [8.0, 12.0, 14.0]
fuel_l_per_h = [62.0, 205.0, 340.0]
"""


def test_what_is_filled_in_is_listed_with_method_and_band():
    vessel = vessel_from_text(ELEVEN)
    for key in ("vessel.gm_m", "vessel.displacement_t", "fins[1].lever_m", "fins[1].rate_gain_s"):
        found = vessel.estimate_of(key)
        assert found.low < found.value < found.high, key
        assert found.method
        assert found.unit
    assert vessel.warnings == ()


def test_gm_and_period_give_each_other():
    from_period = vessel_from_text(ELEVEN)
    gm = from_period.particulars.gm_m
    text = ELEVEN.replace("natural_period_s = 7.8", "").replace(
        "draught_m = 2.8", f"draught_m = 2.8\ngm_m = {gm!r}"
    )
    from_gm = vessel_from_text(text)
    assert_allclose(from_gm.roll.natural_period_s, 7.8, rtol=1e-12)
    assert from_gm.estimate_of("roll.natural_period_s").low < 7.8


def test_draught_and_displacement_give_each_other():
    one = vessel_from_text(ELEVEN)
    displacement = one.particulars.displacement_t
    other = vessel_from_text(ELEVEN.replace("draught_m = 2.8", f"displacement_t = {displacement}"))
    assert_allclose(other.particulars.draught_m, 2.8, rtol=1e-12)
    found = other.estimate_of("vessel.draught_m")
    assert found.low < 2.8 < found.high


def test_a_block_coefficient_given_is_the_one_used():
    given = ELEVEN.replace("draught_m = 2.8", "draught_m = 2.8\nblock_coefficient = 0.55")
    vessel = vessel_from_text(given)
    weight = 1.025 * 0.55 * 44.0 * 9.0 * 2.8
    assert_allclose(vessel.particulars.displacement_t, weight, rtol=1e-3)
    assert vessel.warnings == ()
    other = given.replace("draught_m = 2.8", f"displacement_t = {weight!r}")
    assert_allclose(vessel_from_text(other).particulars.draught_m, 2.8, rtol=1e-3)


def test_what_is_given_is_never_estimated():
    given = ELEVEN.replace("area_m2 = 2.0", "area_m2 = 2.0\nlever_m = 3.1\nmax_angle_deg = 20.0")
    vessel = vessel_from_text(given)
    assert vessel.fins[0].lever_m == 3.1
    assert vessel.estimate_of("fins[1].lever_m") is None
    # The gain goes with the angle given: 20 deg at 5 deg/s.
    assert vessel.fins[0].rate_gain_s == 4.0


def test_a_file_that_says_it_in_full_has_no_filled_number():
    full = vessel_from_text(
        ELEVEN.replace(
            "draught_m = 2.8", "draught_m = 2.8\ndisplacement_t = 550\ngm_m = 1.0"
        ).replace(
            "area_m2 = 2.0",
            "area_m2 = 2.0\naspect_ratio = 1\nlever_m = 3.6\nmax_angle_deg = 25\n"
            "max_rate_deg_s = 25\nreference_speed_kn = 12\nrate_gain_s = 5",
        )
    )
    keys = {item.key for item in full.estimated}
    assert not keys & {"vessel.gm_m", "vessel.displacement_t", "fins[1].lever_m"}


@pytest.mark.parametrize(
    ("old", "words"),
    [
        ("draught_m = 2.8", "draught_m: is missing, and displacement_t as well"),
        ("natural_period_s = 7.8", "gm_m: is missing, and [roll] natural_period_s as well"),
        ("beam_waterline_m = 9.0", "[vessel] beam_waterline_m: is missing"),
        ("length_waterline_m = 44.0", "[vessel] length_waterline_m: is missing"),
        ('name = "Evening"', "[vessel] name: is missing"),
        ("area_m2 = 2.0", "[[fins]] 1 area_m2: is missing"),
        ("fuel_l_per_h = [62.0, 205.0, 340.0]", "[propulsion] fuel_l_per_h: is missing"),
    ],
)
def test_what_nobody_can_guess_is_asked_for(old, words):
    with pytest.raises(VesselError) as caught:
        vessel_from_text(ELEVEN.replace(old, ""))
    lines = str(caught.value).splitlines()
    assert len(lines) == 1
    assert words in lines[0]


def test_both_pairs_missing_are_named_at_once():
    with pytest.raises(VesselError) as caught:
        vessel_from_text(
            ELEVEN.replace("draught_m = 2.8", "").replace("natural_period_s = 7.8", "")
        )
    assert len(str(caught.value).splitlines()) == 2
