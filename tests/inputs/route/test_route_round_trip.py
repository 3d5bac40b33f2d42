"""What is written is read back unchanged, by every format."""

import math

import pytest
from hypothesis import HealthCheck, assume, given, settings
from hypothesis import strategies as st

from passage.errors import RouteError
from passage.inputs.route import (
    Waypoint,
    read_route,
    write_csv,
    write_exchange,
    write_geojson,
    write_gpx,
)
from passage.inputs.route.build import build_route
from passage.inputs.route.text import (
    clean_name,
    decimal_text,
    format_time,
    parse_stay,
    parse_time,
)

FORMATS = {
    "csv": write_csv,
    "gpx": write_gpx,
    "geojson": write_geojson,
    "rtz": write_exchange,
}

names = st.text(min_size=1, max_size=12).map(lambda text: clean_name(text, "x"))
waypoints = st.lists(
    st.builds(
        Waypoint,
        name=names,
        lat_deg=st.floats(-80.0, 80.0),
        lon_deg=st.floats(-180.0, 180.0, exclude_max=True),
        kind=st.sampled_from(["rhumb", "great circle"]),
        speed_kn=st.none() | st.floats(0.5, 60.0),
        stay_h=st.just(0.0) | st.floats(0.02, 100.0),
    ),
    min_size=2,
    max_size=6,
)


def without_times(route):
    return [
        [value for key, value in vars(leg).items() if key not in ("etd_s", "eta_s")]
        for leg in route.legs
        if leg.kind != "stay"
    ] + [[leg.name_to, leg.stay_h] for leg in route.legs if leg.kind == "stay"]


@pytest.mark.parametrize("ending", FORMATS)
@settings(
    max_examples=40, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture]
)
@given(name=names, points=waypoints, timed=st.booleans())
def test_route_comes_back_with_every_digit(tmp_path, ending, name, points, timed):
    try:
        route = build_route("x", name, points)
    except RouteError:
        assume(False)
    if timed and ending != "csv":
        # Whole milliseconds, as the formats keep them; stays as long as they last.
        clock, etd, eta = 1_773_468_000.0, [], []
        for leg in route.legs:
            etd.append(clock)
            clock = round(clock + (leg.stay_h * 3600.0 or 7200.5), 3)
            eta.append(clock)
        route = route.with_schedule(etd, eta)
    path = tmp_path / f"route.{ending}"
    FORMATS[ending](route, path, force=True)
    again = read_route(path)
    assert without_times(again) == without_times(route)
    assert again.name == (name if ending != "csv" else "route")
    assert again.distance_m == route.distance_m
    for ours, theirs in zip(route.legs, again.legs, strict=True):
        for key in ("etd_s", "eta_s"):
            here, there = getattr(ours, key), getattr(theirs, key)
            assert (here is None) == (there is None)
            if here is not None:
                assert there == pytest.approx(here, abs=1e-3)


@given(st.floats(allow_nan=False, allow_infinity=False))
def test_decimal_text_has_no_exponent_and_every_digit(value):
    text = decimal_text(value)
    assert "e" not in text.lower()
    assert float(text) == value


@given(st.integers(86_400_000, 4_000_000_000_000))
def test_times_come_back_to_the_millisecond(millis):
    assume(millis / 1000.0 > 31_622_400)
    time_s, zoned = parse_time(format_time(millis / 1000.0), "eta")
    assert zoned
    assert time_s == pytest.approx(millis / 1000.0, abs=1e-6)


@pytest.mark.parametrize(
    ("text", "hours"),
    {
        "02:30:00": 2.5,
        "2:30": 2.5,
        "00:00:36Z": 0.01,
        "PT2H30M": 2.5,
        "P1DT12H": 36.0,
        "P2D": 48.0,
        "PT90M": 1.5,
        "PT36S": 0.01,
    }.items(),
)
def test_stay_is_read_as_time_and_as_duration(text, hours):
    # xs:time and xs:duration, W3C XML Schema part 2.
    assert math.isclose(parse_stay(text), hours, rel_tol=1e-12)


@pytest.mark.parametrize("text", ["P", "PT", "P1Y", "P1M", "an hour", "-02:00:00", "2.5", ""])
def test_stay_of_no_definite_length_is_refused(text):
    with pytest.raises(ValueError, match="not a time span"):
        parse_stay(text)


@pytest.mark.parametrize(
    "text", ["2026-03-14", "14.3.2026 06:00", "2026-13-01T00:00Z", "1026-03-14T06:00Z", "x"]
)
def test_an_invalid_time_is_refused(text):
    with pytest.raises(ValueError, match=r"not a time|check the year"):
        parse_time(text, "eta")
