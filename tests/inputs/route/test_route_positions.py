"""Positions as people write them."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from passage.inputs.route.positions import (
    format_position,
    parse_latitude,
    parse_longitude,
    wrap_longitude,
)

# Sixtieths of a degree worked by hand.
LATITUDES = {
    "48.39": 48.39,
    "+48.39": 48.39,
    "-48.39": -48.39,
    " 48.39 ": 48.39,
    "48.39°": 48.39,
    "48.39N": 48.39,
    "48.39 s": -48.39,
    "N 48.39": 48.39,
    "S48.39": -48.39,
    "−48.39": -48.39,
    "48 23.4 N": 48.39,
    "48°23.4'N": 48.39,
    "48° 23.4′ S": -48.39,
    "N48 23.4": 48.39,
    "48-23.4N": 48.39,
    "48:23.4 N": 48.39,
    "48 23 24 N": 48.39,
    "48°23'24\"N": 48.39,
    "48°23′24.0″ n": 48.39,
    "S 48:23:24": -48.39,
    "0 00.0 N": 0.0,
    "90 00 N": 90.0,
    "48 N": 48.0,
    "5e-05": 5e-05,
}
LONGITUDES = {
    "-4.49": -4.49,
    "4.49 W": -4.49,
    "4 29.4 W": -4.49,
    "004°29.4'W": -4.49,
    "W004-29.4": -4.49,
    "E 4 29.4": 4.49,
    "4 29.4E": 4.49,
    "179 59.4 E": 179.99,
    "180": -180.0,
    "180 E": -180.0,
    "180 W": -180.0,
    "355.51": -4.49,
    "360": 0.0,
    "1e+02": 100.0,
}


@pytest.mark.parametrize(("text", "expected"), LATITUDES.items())
def test_latitude_is_read(text, expected):
    assert parse_latitude(text) == pytest.approx(expected, abs=1e-12)


@pytest.mark.parametrize(("text", "expected"), LONGITUDES.items())
def test_longitude_is_read(text, expected):
    assert parse_longitude(text) == pytest.approx(expected, abs=1e-12)


REFUSED = {
    "": "empty",
    "nan": "not a number",
    "-inf": "not a number",
    "Infinity": "not a number",
    "95 N": "beyond 90",
    "95": "beyond 90",
    "-90.001": "beyond 90",
    "90 30 N": "beyond 90",
    "4823.4 N": "run together",
    "48,39": "comma",
    "48 23,4 N": "comma",
    "48 60.0 N": "60.0 minutes",
    "48 75 N": "75 minutes",
    "48 23 60 N": "60 seconds",
    "48 23.4": "add N or S",
    "48 23 24": "add N or S",
    "-48 23.4": "sign before degrees",
    "-48.39 S": "both a sign and a letter",
    "N 48.39 N": "both ends",
    "48.5 23.4 N": "cannot be read",
    "48 23.4 24 N": "fractions of a minute and seconds",
    "48 23 24s": "south or seconds",
    "48.39 W": "may be swapped",
    "E 48.39": "may be swapped",
    "48.39 Q": "cannot be read",
    "north": "cannot be read",
    "48.39.1": "cannot be read",
    "٤٨.٣٩": "cannot be read",
    "48 - 23": "add N or S",
    "1e5": "cannot be read",
    "--48": "cannot be read",
    "48 N 23.4": "cannot be read",
}


@pytest.mark.parametrize(("text", "words"), REFUSED.items())
def test_latitude_that_is_wrong_or_ambiguous_is_refused_in_words(text, words):
    with pytest.raises(ValueError, match=words):
        parse_latitude(text)


@pytest.mark.parametrize(
    ("text", "words"),
    {
        "181 E": "beyond 180",
        "-181": "beyond 180",
        "361": "beyond 360",
        "4 29.4 O": "east in some languages",
        "48 23.4 N": "may be swapped",
        "1E5": "cannot be read",
    }.items(),
)
def test_longitude_that_is_wrong_or_ambiguous_is_refused_in_words(text, words):
    with pytest.raises(ValueError, match=words):
        parse_longitude(text)


@given(
    degrees=st.integers(0, 89),
    thousandths=st.integers(0, 59_999),
    letter=st.sampled_from("NS"),
    shape=st.sampled_from(["{d} {m} {h}", "{h}{d}°{m}'", "{d}-{m}{h}", "{d}°{m}′{h}"]),
)
def test_degrees_and_minutes_in_any_shape_give_the_same_angle(degrees, thousandths, letter, shape):
    minutes = thousandths / 1000.0
    text = shape.format(d=degrees, m=f"{minutes:.3f}", h=letter)
    expected = math.copysign(degrees + minutes / 60.0, 1 if letter == "N" else -1)
    assert parse_latitude(text) == pytest.approx(expected, abs=1e-12)


@given(st.text(max_size=30))
def test_any_text_gives_an_angle_in_range_or_words(text):
    for parse, limit in ((parse_latitude, 90.0), (parse_longitude, 180.0)):
        value, words = limit, "none"
        try:
            value = parse(text)
        except ValueError as err:
            words = str(err)
        assert words
        assert -limit <= value <= limit


def test_longitude_within_range_keeps_every_digit():
    assert wrap_longitude(-4.485733333333333) == -4.485733333333333
    assert wrap_longitude(180.0) == -180.0
    assert wrap_longitude(540.5) == -179.5


def test_position_is_written_as_a_chart_is_read():
    assert format_position(48.39, -4.49) == "48°23.40'N 004°29.40'W"
    # 59.999 minutes must not become 60.00.
    assert format_position(-0.99999, 9.99999) == "01°00.00'S 010°00.00'E"
