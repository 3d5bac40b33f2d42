"""Invariants of sampling: what interpolation must and must not do."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from numpy.testing import assert_allclose

from passage.inputs.forecast import open_forecast
from passage.variables import COVERAGE

# Fields are stored in single precision: 24 bits, some 8 roundings in a sum.
SINGLE = 1e-6
HOUR_S = 3600.0


def word(code) -> str:
    return COVERAGE[int(code)]


def scattered(n: int = 200, seed: int = 1):
    rng = np.random.default_rng(seed)
    lat, lon = rng.uniform(48.0, 50.0, n), rng.uniform(-8.0, -6.0, n)
    return lat, lon, rng.uniform(0.0, 12.0 * HOUR_S, n)


def angle_apart(a, b):
    return np.abs((np.asarray(a) - b + np.pi) % (2 * np.pi) - np.pi)


def test_a_constant_field_stays_constant(make_forecast, maker) -> None:
    path = make_forecast(maker.sea(2.25, 9.5, 350.0) | maker.wind(4.0, -3.0))
    lat, lon, after = scattered()
    with open_forecast(path) as forecast:
        got = forecast.sample(lat, lon, forecast.time_from_s + after)
    assert_allclose(got.height_m[:, 0], 2.25, rtol=SINGLE)
    assert_allclose(got.peak_period_s[:, 0], 9.5, rtol=SINGLE)
    assert angle_apart(got.from_rad[:, 0], np.radians(350.0)).max() < 2e-6
    assert_allclose(got.wind_u_m_s, 4.0, rtol=SINGLE)
    assert_allclose(got.wind_v_m_s, -3.0, rtol=SINGLE)
    assert {word(c) for c in got.coverage} == {"ok"}


def test_an_energy_linear_in_place_and_time_is_exact(make_forecast, maker) -> None:
    def plane(lat, lon, hour):
        return 2.0 + 0.5 * (lat - 49.0) - 0.25 * (lon + 7.0) + 0.05 * hour

    path = make_forecast(
        maker.sea(lambda a, o, h: np.sqrt(plane(a, o, h)))
        | maker.wind(lambda a, o, h: 3 * plane(a, o, h), 1.0),
        hours=[0.0, 1.0, 3.0, 4.5, 12.0],
    )
    lat, lon, after = scattered(500)
    with open_forecast(path) as forecast:
        # The interval from 4.5 to 12 h counts as a gap: keep to the hours before it.
        after = after * 4.5 / 12.0
        got = forecast.sample(lat, lon, forecast.time_from_s + after)
    truth = plane(lat, lon, after / HOUR_S)
    assert_allclose(got.height_m[:, 0] ** 2, truth, rtol=0, atol=3e-6)
    assert_allclose(got.total_height_m**2, truth, rtol=0, atol=3e-6)
    assert_allclose(got.wind_u_m_s, 3 * truth, rtol=0, atol=1e-5)


@settings(
    max_examples=25, deadline=None,
    suppress_health_check=[HealthCheck.function_scoped_fixture],
)  # fmt: skip
@given(turn=st.floats(0.0, 360.0), seed=st.integers(0, 1000))
def test_turning_every_direction_turns_the_answer(tmp_path, maker, turn: float, seed: int) -> None:
    def base(lat, lon, hour):
        return 340.0 + 20.0 * (lat - 48.0) + 15.0 * (lon + 8.0) + hour

    def height(lat, lon, hour):
        return 1.0 + (lat - 48.0) + 0.1 * hour

    answers = []
    lat, lon, after = scattered(50, seed)
    for name, by in (("a.nc", 0.0), ("b.nc", turn)):
        path = maker.write_forecast(
            tmp_path / name,
            maker.sea(height, 8.0, lambda a, o, h, by=by: (base(a, o, h) + by) % 360.0),
        )
        with open_forecast(path) as forecast:
            got = forecast.sample(lat, lon, forecast.time_from_s + after)
        answers.append(got.from_rad[:, 0])
    assert angle_apart(answers[1], answers[0] + np.radians(turn)).max() < 3e-6


def test_directions_either_side_of_north_average_to_north(make_forecast, maker) -> None:
    path = make_forecast(
        maker.sea(direction=lambda lat, lon, h: np.where(lon < -7.9, 350.0, 10.0)),
        lon=[-8.0, -7.0],
    )
    with open_forecast(path) as forecast:
        got = forecast.sample(49.0, -7.5, forecast.time_from_s)
    assert angle_apart(got.from_rad[0], 0.0) < 1e-6


def test_direction_and_period_are_weighted_by_energy(make_forecast, maker) -> None:
    # Heights 3 and 1: energies 9 to 1. Half-way the energy-weighted period is
    # (9 x 12 + 1 x 4)/10 and the direction that of 9 parts north and 1 part east.
    def west(a, b):
        return lambda lat, lon, h: np.where(lon < -7.5, a, b)

    path = make_forecast(
        maker.sea(west(3.0, 1.0), west(12.0, 4.0), west(0.0, 90.0)), lon=[-8.0, -7.0]
    )
    with open_forecast(path) as forecast:
        got = forecast.sample(49.0, -7.5, forecast.time_from_s)
    assert_allclose(got.height_m, [np.sqrt(5.0)], rtol=SINGLE)
    assert_allclose(got.peak_period_s, [11.2], rtol=SINGLE)
    assert_allclose(got.from_rad, [np.arctan2(1.0, 9.0)], rtol=SINGLE)


@pytest.mark.parametrize("turn", [-720.0, -360.0, 360.0, 720.0])
def test_a_turn_of_longitude_changes_nothing(make_forecast, maker, turn) -> None:
    path = make_forecast(maker.sea(lambda lat, lon, h: 1.0 + 0.1 * (lon + 8) + 0.2 * h))
    lat, lon, after = scattered()
    with open_forecast(path) as forecast:
        at = forecast.time_from_s + after
        here, there = forecast.sample(lat, lon, at), forecast.sample(lat, lon + turn, at)
    # A degree more or less in the 13th digit is all that adding a turn can do.
    assert_allclose(there.height_m, here.height_m, rtol=SINGLE)
    assert (there.coverage == here.coverage).all()


@pytest.mark.parametrize("flip_lat", [False, True])
@pytest.mark.parametrize("shift", [0.0, 360.0])
def test_order_of_latitude_and_longitude_convention_change_nothing(
    make_forecast, maker, flip_lat, shift
) -> None:
    def height(lat, lon, hour):
        east = (lon + 180.0) % 360.0 - 180.0
        return 2.0 + np.sin(lat) + 0.3 * np.cos(3 * east) + 0.01 * hour

    plain = make_forecast(maker.sea(height), name="plain.nc")
    lat = maker.LAT[::-1] if flip_lat else maker.LAT
    other = make_forecast(maker.sea(height), name="other.nc", lat=lat, lon=maker.LON + shift)
    at_lat, at_lon, after = scattered()
    got = []
    for path in (plain, other):
        with open_forecast(path) as forecast:
            got.append(forecast.sample(at_lat, at_lon, forecast.time_from_s + after))
    assert_allclose(got[1].height_m, got[0].height_m, rtol=SINGLE)


def test_across_the_antimeridian_equals_the_same_field_elsewhere(make_forecast, maker) -> None:
    across = np.arange(178.0, 182.01, 0.5)
    wrapped = (across + 180.0) % 360.0 - 180.0

    def by_column(base):
        return lambda lat, lon, h: np.sqrt(1.0 + 0.1 * ((lon - base) % 360.0) + 0.05 * (lat - 48))

    files = [
        (make_forecast(maker.sea(by_column(178.0)), name="a.nc", lon=wrapped), 0.0),
        (make_forecast(maker.sea(by_column(178.0)), name="b.nc", lon=across), 0.0),
        (make_forecast(maker.sea(by_column(10.0)), name="c.nc", lon=across - 168.0), -168.0),
    ]
    lon = np.array([178.2, 179.9, 180.0, -179.9, -178.1])
    answers = []
    for path, shift in files:
        with open_forecast(path) as forecast:
            answers.append(forecast.sample(49.3, lon + shift, forecast.time_from_s))
    for answer in answers:
        assert {word(c) for c in answer.coverage} == {"ok"}
        assert_allclose(answer.height_m, answers[0].height_m, rtol=SINGLE)
    assert_allclose(
        answers[0].height_m[:, 0] ** 2, 1.0 + 0.1 * ((lon - 178.0) % 360.0) + 0.065, rtol=SINGLE
    )


@pytest.mark.parametrize("west", [0.0, -180.0])
@pytest.mark.parametrize("twice", [False, True])
def test_a_grid_round_the_earth_is_continuous(make_forecast, maker, west, twice) -> None:
    lon = np.arange(west, west + 360.0 + (5.0 if twice else 0.0), 10.0)
    path = make_forecast(maker.sea(lambda lat, lon, h: 3.0 + np.cos(np.radians(lon))), lon=lon)
    at = np.array([-180.0, -179.0, 179.0, 180.0, -1.0, 0.0, 1.0, 355.0, 361.0])
    with open_forecast(path) as forecast:
        got = forecast.sample(49.0, at, forecast.time_from_s)
    low = np.floor(at / 10.0) * 10.0
    part = (at - low) / 10.0
    nodes = [3.0 + np.cos(np.radians(low)), 3.0 + np.cos(np.radians(low + 10.0))]
    assert {word(c) for c in got.coverage} == {"ok"}
    energy = (1 - part) * nodes[0] ** 2 + part * nodes[1] ** 2
    assert_allclose(got.height_m[:, 0] ** 2, energy, rtol=SINGLE)


@pytest.mark.parametrize(
    ("lat", "lon", "after_h", "expected"),
    [
        (47.9, -7.0, 1.0, "outside_area"),
        (50.1, -7.0, 1.0, "outside_area"),
        (49.0, -8.1, 1.0, "outside_area"),
        (49.0, -5.9, 1.0, "outside_area"),
        (49.0, 172.0, 1.0, "outside_area"),
        (49.0, -7.0, -0.01, "before_forecast"),
        (49.0, -7.0, 12.01, "after_forecast"),
        (np.nan, -7.0, 1.0, "outside_area"),
        (49.0, np.nan, 1.0, "outside_area"),
        (49.0, -7.0, np.nan, "outside_area"),
    ],
)
def test_a_point_outside_is_nan_with_a_coverage_code(
    make_forecast, maker, lat, lon, after_h, expected
) -> None:
    with open_forecast(make_forecast(maker.sea() | maker.wind())) as forecast:
        got = forecast.sample(lat, lon, forecast.time_from_s + after_h * HOUR_S)
    assert word(got.coverage) == expected
    assert word(got.wind_coverage) == expected
    assert np.isnan(got.height_m).all()
    assert np.isnan([got.total_height_m, got.wind_u_m_s]).all()


def test_points_on_the_first_and_last_lines_are_inside(make_forecast) -> None:
    lat, lon = np.meshgrid([48.0, 50.0], [-8.0, -6.0])
    with open_forecast(make_forecast()) as forecast:
        for at in (forecast.time_from_s, forecast.time_to_s):
            got = forecast.sample(lat, lon, at)
            assert {word(c) for c in got.coverage.ravel()} == {"ok"}
            assert_allclose(got.height_m, 1.5, rtol=SINGLE)


def test_a_masked_corner_counts_only_where_it_has_weight(make_forecast, maker) -> None:
    def height(lat, lon, hour):
        return np.where((lat == 49.0) & (lon == -7.0), np.nan, 1.5)

    with open_forecast(make_forecast(maker.sea(height))) as forecast:
        got = forecast.sample(
            [49.0, 49.1, 49.5, 49.6, 49.0], [-7.0, -7.1, -7.0, -7.1, -7.5],
            forecast.time_from_s + 100.0,
        )  # fmt: skip
    assert [word(c) for c in got.coverage] == ["masked", "masked", "ok", "ok", "ok"]
    assert np.isnan(got.height_m[:2]).all()
    assert_allclose(got.height_m[2:], 1.5, rtol=SINGLE)


def test_one_variable_masked_masks_the_sea_and_not_the_wind(make_forecast, maker) -> None:
    def period(lat, lon, hour):
        return np.where(lat > 49.2, np.nan, 8.0)

    path = make_forecast(maker.sea(period=period) | maker.wind())
    with open_forecast(path) as forecast:
        got = forecast.sample([48.2, 49.8], -7.0, forecast.time_from_s)
        notes = " ".join(forecast.notes)
    assert [word(c) for c in got.coverage] == ["ok", "masked"]
    assert [word(c) for c in got.wind_coverage] == ["ok", "ok"]
    assert "without period or direction" in notes


def systems(maker, swell_height, swell_period=12.0, total=2.0):
    return (
        maker.sea(total, 9.0, 250.0)
        | maker.partition("wind", 1.2, 5.0, 230.0)
        | maker.partition("primary_swell", swell_height, swell_period, 300.0)
    )


def test_an_absent_partition_counts_as_no_height_and_sets_no_period(make_forecast, maker) -> None:
    def height(lat, lon, hour):
        return np.where(lon < -7.5, 1.6, np.nan)

    def period(lat, lon, hour):
        return np.where(lon < -7.5, 12.0, np.nan)

    def total(lat, lon, hour):
        return np.where(lon < -7.5, 2.0, 1.2)

    path = make_forecast(systems(maker, height, period, total), lon=[-8.0, -7.0])
    with open_forecast(path) as forecast:
        got = forecast.sample(49.0, [-8.0, -7.75, -7.0], forecast.time_from_s)
        assert forecast.system_names == ("wind sea", "swell 1", "rest of the sea")
    assert [word(c) for c in got.coverage] == ["ok"] * 3
    assert_allclose(got.height_m[:, 1], [1.6, 1.6 * np.sqrt(0.75), np.nan], rtol=SINGLE)
    assert np.isnan(got.height_m[:, 2]).all()
    # Tm01 over Tp of JONSWAP with gamma 5 is 0.8583 (computed table of the methods
    # note, 4 digits).
    assert_allclose(got.peak_period_s[:2, 1], 12.0 / 0.8583, rtol=1e-4)
    assert_allclose(got.total_height_m[[0, 2]], [2.0, 1.2], rtol=SINGLE)
    # 1.2 m with a mean of 5 s has a peak of 6.5 s: past the rule's 5 sqrt(Hs), so 1.
    assert got.gamma[0, 0] == 1.0
    assert got.gamma[0, 1] == 5.0
    # cos-2s with s = 25 has a circular width of sqrt(2/26).
    assert_allclose(got.spread_rad[0, 1], np.sqrt(2.0 / 26.0), rtol=1e-7)


def test_a_total_without_any_partition_keeps_its_energy(make_forecast, maker) -> None:
    gone = np.nan
    variables = (
        maker.sea(2.0, 9.0, 250.0)
        | maker.partition("wind", gone, gone, gone)
        | maker.partition("primary_swell", gone, gone, gone)
    )
    with open_forecast(make_forecast(variables)) as forecast:
        got = forecast.sample(49.0, -7.0, forecast.time_from_s)
        notes = " ".join(forecast.notes)
    assert_allclose(got.height_m, [np.nan, np.nan, 2.0], rtol=SINGLE)
    assert_allclose(got.peak_period_s, [np.nan, np.nan, 9.0], rtol=SINGLE)
    assert "a total but no partition" in notes


def test_a_flat_calm_is_not_missing_data(make_forecast, maker) -> None:
    path = make_forecast(maker.sea(0.0, np.nan, np.nan))
    with open_forecast(path) as forecast:
        got = forecast.sample(49.0, -7.0, forecast.time_from_s)
    assert word(got.coverage) == "ok"
    assert got.height_m.tolist() == [0.0]
    assert got.total_height_m == 0.0


def test_a_single_time_step_is_valid_only_then(make_forecast) -> None:
    path = make_forecast(hours=[6.0])
    with open_forecast(path) as forecast:
        start = forecast.time_from_s
        got = forecast.sample(49.0, -7.0, start + np.array([-60.0, 0.0, 60.0]))
        assert any("single time step" in note for note in forecast.notes)
    words = [word(c) for c in got.coverage]
    assert words == ["before_forecast", "ok", "after_forecast"]
    with open_forecast(path, hold_single_step_s=3600.0) as forecast:
        got = forecast.sample(49.0, -7.0, start + np.array([-3601.0, -3000.0, 3000.0]))
    assert [word(c) for c in got.coverage] == ["before_forecast", "ok", "ok"]


def test_shapes_broadcast_and_may_be_empty(make_forecast) -> None:
    with open_forecast(make_forecast()) as forecast:
        start = forecast.time_from_s
        got = forecast.sample(np.full((3, 1), 49.0), [-7.0, -6.5], start)
        assert got.height_m.shape == (3, 2, 1)
        assert got.coverage.shape == (3, 2)
        scalar = forecast.sample(49.0, -7.0, start)
        assert scalar.height_m.shape == (1,)
        assert scalar.coverage.shape == ()
        empty = forecast.sample([], [], [])
        assert empty.height_m.shape == (0, 1)


def test_nearest_sea_cell_is_opt_in_and_marked(make_forecast, maker) -> None:
    def height(lat, lon, hour):
        return np.where(lon > -6.8, np.nan, np.sqrt(1.0 + (lat - 48.0)))

    path = make_forecast(maker.sea(height))
    points = ([49.1, 49.1, 49.1], [-7.2, -6.9, -6.1])
    with open_forecast(path) as forecast:
        plain = forecast.sample(*points, forecast.time_from_s)
    with open_forecast(path, nearest_sea_cell_km=30.0) as forecast:
        near = forecast.sample(*points, forecast.time_from_s)
        assert any("nearest sea cell" in note for note in forecast.notes)
    assert [word(c) for c in plain.coverage] == ["ok", "masked", "masked"]
    assert [word(c) for c in near.coverage] == ["ok", "nearest_sea_cell", "masked"]
    # The cell at 49.0 N, 7.0 W is 13 km away; the one for the last point 66 km.
    assert_allclose(near.height_m[:, 0] ** 2, [2.1, 2.0, np.nan], rtol=SINGLE)


def test_members_are_sampled_one_by_one_or_together(make_forecast, maker) -> None:
    def height(lat, lon, hour, member):
        return 1.0 + member + 0.0 * lat

    fixed = {k: maker.Made(v.values, v.units, v.standard_name)
             for k, v in maker.sea().items()}  # fmt: skip
    fixed["hs"] = maker.Made(height, "m", fixed["hs"].standard_name)
    path = make_forecast(fixed, members=3)
    with open_forecast(path) as forecast:
        assert forecast.n_members == 3
        start = forecast.time_from_s
        assert_allclose(forecast.sample(49.0, -7.0, start, member=2).height_m, [3.0], rtol=1e-7)
        every = forecast.sample(49.0, -7.0, start, member=np.arange(3)[:, None])
        assert_allclose(every.height_m[:, 0, 0], [1.0, 2.0, 3.0], rtol=1e-7)
        with pytest.raises(IndexError, match="0 to 2"):
            forecast.sample(49.0, -7.0, start, member=3)


def test_loading_by_parts_gives_the_same_numbers(make_forecast, maker, monkeypatch) -> None:
    import passage.inputs.forecast.group as group

    def height(lat, lon, hour):
        return 2.0 + np.sin(lat * 3) + np.cos(lon * 2) + 0.05 * hour

    lon = np.arange(0.0, 360.0, 2.0)
    path = make_forecast(maker.sea(height), lon=lon, lat=np.arange(-80, 81, 4.0))
    rng = np.random.default_rng(3)
    at = (rng.uniform(-80, 80, 400), rng.uniform(-180, 180, 400))
    after = rng.uniform(0, 12 * HOUR_S, 400)
    with open_forecast(path) as forecast:
        whole = forecast.sample(*at, forecast.time_from_s + after)
    monkeypatch.setattr(group, "BLOCK_BYTES", 60_000)
    with open_forecast(path) as forecast:
        parts = forecast.sample(*at, forecast.time_from_s + after)
    np.testing.assert_array_equal(parts.coverage, whole.coverage)
    assert_allclose(parts.height_m, whole.height_m, rtol=2e-6)


@pytest.mark.parametrize("base", [180.0, 0.0, 90.0])
@pytest.mark.parametrize("west", [0.0, -180.0])
def test_an_area_across_a_seam_does_not_limit_sampling(make_forecast, maker, base, west) -> None:
    from passage.inputs.forecast import Area

    def height(lat, lon, hour):
        return 2.0 + np.cos(np.radians(lon))

    path = make_forecast(maker.sea(height), lon=np.arange(west, west + 360.0, 5.0))
    lon = base + np.array([-5.0, -1.0, 1.0, 8.0, 190.0])
    with open_forecast(path) as plain:
        truth = plain.sample(49.0, lon, plain.time_from_s)
    edges = (base + np.array([-10.0, 10.0]) + 180.0) % 360.0 - 180.0
    box = Area(48.5, 49.5, *edges)
    with open_forecast(path, area=box) as forecast:
        block = forecast._joined.groups["waves"].blocks[0][1]
        assert block.lon.values.size <= 6
        got = forecast.sample(49.0, lon, forecast.time_from_s)
    assert_allclose(got.height_m, truth.height_m, rtol=SINGLE)
    assert {word(c) for c in got.coverage} == {"ok"}


def test_nearest_cells_are_found_across_a_seam(make_forecast, maker) -> None:
    def height(lat, lon, hour):
        return np.where(np.abs(lon - 180.0) < 1.0, np.nan, 1.0 + lon / 360.0)

    lon = np.arange(0.0, 360.0, 0.5)
    path = make_forecast(maker.sea(height), lon=lon, lat=[0.0, 0.5, 1.0])
    with open_forecast(path, nearest_sea_cell_km=120.0) as forecast:
        got = forecast.sample(0.5, [-179.6, 179.6], forecast.time_from_s)
    assert [word(c) for c in got.coverage] == ["nearest_sea_cell"] * 2
    assert_allclose(got.height_m[:, 0], 1.0 + np.array([181.0, 179.0]) / 360.0, rtol=SINGLE)


def test_directions_that_look_like_radians_are_noted(make_forecast, maker) -> None:
    lat = np.arange(40.0, 50.0, 0.5)
    doubtful = make_forecast(maker.sea(direction=4.7), lat=lat)
    with open_forecast(doubtful) as forecast:
        assert any("radians" in note for note in forecast.notes)
    with open_forecast(make_forecast(maker.sea(direction=7.0), lat=lat)) as forecast:
        assert not any("radians" in note for note in forecast.notes)


def test_heights_agree_with_scipy_on_an_uneven_grid(make_forecast, maker) -> None:
    from scipy.interpolate import RegularGridInterpolator

    rng = np.random.default_rng(11)
    lat = np.sort(rng.uniform(40.0, 60.0, 9))
    lon = np.sort(rng.uniform(-20.0, 10.0, 12))
    hours = np.array([0.0, 1.0, 2.5, 4.0, 7.0, 10.0])
    field = rng.uniform(0.5, 6.0, (6, 9, 12))
    path = make_forecast(maker.sea(field), lat=lat, lon=lon, hours=hours)
    n = 400
    at = np.column_stack(
        [rng.uniform(hours[0], hours[-1], n), rng.uniform(lat[0], lat[-1], n),
         rng.uniform(lon[0], lon[-1], n)]
    )  # fmt: skip
    want = np.sqrt(RegularGridInterpolator((hours, lat, lon), field.astype(np.float32) ** 2)(at))
    with open_forecast(path) as forecast:
        got = forecast.sample(at[:, 1], at[:, 2], forecast.time_from_s + at[:, 0] * HOUR_S)
    assert_allclose(got.height_m[:, 0], want, rtol=3e-6)
    assert (got.coverage == 0).all()


@pytest.mark.parametrize(
    ("height", "period", "word"),
    [(0.3, 0.95, "masked"), (1.8, 40.0, "masked"), (0.03, 40.0, "ok"), (1.8, 29.9, "ok")],
)
def test_waves_of_a_period_for_which_nothing_is_computed_are_masked_and_named(
    make_forecast, maker, height, period, word
):
    path = make_forecast(maker.sea(height, period, 270.0))
    with open_forecast(path) as forecast:
        got = forecast.sample(49.1, -7.1, forecast.time_from_s)
        notes = [note for note in forecast.notes if "peak period outside 1 to 30 s" in note]
    assert COVERAGE[int(got.coverage)] == word
    assert len(notes) == (word == "masked")
