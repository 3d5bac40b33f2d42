"""Quantities at points: those of a plan in the same sea, whatever the shape of the arrays."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from numpy.testing import assert_allclose, assert_array_equal

import passage

SAMPLES = Path(__file__).parents[2] / "sample_forecasts"
SEA = {"height_m": 2.5, "peak_period_s": 8.0, "speed_kn": 12.0}


@pytest.fixture(scope="module")
def vessel():
    return passage.read_vessel(SAMPLES / "brambling.toml")


@pytest.fixture
def planned(vessel, make_forecast, maker):
    """A plan northwards over 49 N in waves from the east, and its points."""

    def make(height=2.5, period=8.0, come_from=90.0, **more):
        path = make_forecast(maker.sea(height, period, come_from))
        route = path.with_name("route.csv")
        route.write_text("name,lat,lon\nA,48.8,-7.0\nB,49.2,-7.0\n", encoding="utf-8")
        made = passage.plan(
            route, vessel, path, departure=maker.start_s(), speed_kn=12.0, map_times=0, **more
        )
        return made.answer.points

    return make


def test_roll_is_that_of_a_plan(vessel, planned) -> None:
    points = planned(heel="leave")
    # The list is in the plan: it shifts the working point of centred fins by nothing.
    made = passage.roll(vessel, encounter_deg=90.0, **SEA)
    for name in ("roll_centred_rms_deg", "encounter_period_s"):
        # Her GM falls with the fuel burnt: at departure it is that of the file, half a
        # stretch before the first point. The forecast is stored in single precision.
        first, second = points[name][:2]
        assert_allclose(getattr(made, name), 1.5 * first - 0.5 * second, rtol=2e-6)
    assert_allclose(made.roll_active_rms_deg, points["roll_active_rms_deg"][0], rtol=2e-3)


def test_resistance_is_that_of_a_plan(vessel, planned) -> None:
    """Litres of the plan's waves over its speed and engine, at two heights."""
    force = passage.added_resistance(
        vessel, height_m=[1.0, 2.0], peak_period_s=8.0, encounter_deg=180.0, speed_kn=12.0
    )
    rates = []
    for height in (1.0, 2.0):
        points = planned(height, come_from=0.0)
        rates.append(points["fuel_waves_l"][0] / points["hours"][0])
    assert_allclose(rates[1] / rates[0], force[1] / force[0], rtol=0.03)
    # Force goes with height squared while the shape of the spectrum stays.
    same = passage.added_resistance(
        vessel, height_m=[1.0, 2.0], peak_period_s=8.0, encounter_deg=180.0, speed_kn=12.0, gamma=2
    )
    assert_allclose(same[1], 4.0 * same[0], rtol=1e-6)


def test_comfort_at_all_places_is_that_of_a_plan(vessel, planned) -> None:
    points = planned()
    hours = float(points["hours"][0])
    made = passage.comfort(vessel, encounter_deg=90.0, hours=hours, **SEA)
    assert_allclose(
        made.vertical_acceleration_rms_g, points["vertical_acceleration_rms_g"][0], rtol=2e-3
    )
    assert_allclose(made.motion_sickness_percent, points["motion_sickness_percent"][0], rtol=5e-3)


def test_the_worst_place_is_one_of_the_places(vessel) -> None:
    each = [
        passage.comfort(vessel, encounter_deg=120.0, place=place.name, **SEA)
        for place in vessel.places
    ]
    worst = passage.comfort(vessel, encounter_deg=120.0, **SEA)
    values = [float(one.vertical_acceleration_rms_g) for one in each]
    assert_allclose(worst.vertical_acceleration_rms_g, max(values), rtol=1e-9)
    first = vessel.places[0]
    by_numbers = passage.comfort(
        vessel, encounter_deg=120.0, place=(first.x_m, first.y_m, first.z_m), **SEA
    )
    assert_allclose(by_numbers.vertical_acceleration_rms_g, values[0], rtol=1e-12)
    with pytest.raises(passage.PassageError, match="the vessel file has"):
        passage.comfort(vessel, encounter_deg=120.0, place="crow's nest", **SEA)


def test_shapes_broadcast_and_points_are_independent(vessel) -> None:
    height, angle = np.array([1.0, 2.0, 3.0]), np.array([[30.0], [90.0]])
    made = passage.roll(
        vessel, height_m=height, encounter_deg=angle, peak_period_s=8.0, speed_kn=12.0
    )
    assert made.roll_active_rms_deg.shape == (2, 3)
    one = passage.roll(vessel, height_m=3.0, encounter_deg=30.0, peak_period_s=8.0, speed_kn=12.0)
    assert_allclose(one.roll_active_rms_deg, made.roll_active_rms_deg[0, 2], rtol=1e-12)
    assert one.roll_active_rms_deg.shape == ()
    assert len(made.to_dataframe()) == 6


def test_port_and_starboard_are_equal_and_nan_stays_nan(vessel) -> None:
    made = passage.roll(vessel, encounter_deg=[60.0, -60.0, 300.0, np.nan], **SEA)
    values = made.roll_active_rms_deg
    assert_allclose(values[:3], values[0], rtol=1e-9)
    assert np.isnan(values[3])
    assert "array (4,)" in repr(made)


def test_a_calm_sea_gives_no_motion(vessel) -> None:
    flat = {"height_m": 0.0, "peak_period_s": 8.0, "encounter_deg": 90.0, "speed_kn": 12.0}
    assert passage.roll(vessel, **flat).roll_centred_rms_deg == 0.0
    assert passage.added_resistance(vessel, **flat) == 0.0


def test_offset_mirrors_and_its_fuel_grows_with_the_square(vessel) -> None:
    made = passage.fin_offset(vessel, heel_deg=[-0.8, -0.4, 0.0, 0.4, 0.8], speed_kn=12.0)
    assert_allclose(made.fin_offset_deg, -made.fin_offset_deg[::-1], atol=1e-12)
    assert_array_equal(made.steady_heel_deg.round(9), np.zeros(5))
    assert made.fin_drag_offset_n[2] == 0.0
    assert_allclose(made.fin_drag_offset_n[4], 4.0 * made.fin_drag_offset_n[3], rtol=0.02)
    assert made.fuel_l_per_h[4] > made.fuel_l_per_h[3] > 0.0


@pytest.mark.parametrize(
    ("given", "words"),
    [
        ({"height_m": -1.0}, "height_m -1 m is out of range"),
        ({"peak_period_s": 0.1}, "peak_period_s 0.1 s"),
        ({"speed_kn": "fast"}, "speed_kn"),
        ({"system": "swel"}, "Did you mean swell"),
        ({"gamma": 30}, "gamma 30"),
    ],
)
def test_values_out_of_range_are_refused(vessel, given, words) -> None:
    with pytest.raises(passage.PassageError, match=words):
        passage.roll(vessel, **{**SEA, "encounter_deg": 90.0, **given})
