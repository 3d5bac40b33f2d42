"""A user's own numbers of the error model: taken, completed, refused in words."""

import pytest

from passage.errors import PassageError
from passage.planning.odds.error_model import ErrorModel
from passage.planning.odds.own_numbers import own_model


def test_numbers_given_replace_the_usual_ones():
    made = own_model({"height_share": [0.05, 0.1, 0.1, 0.2, 0.3], "correlation_h": 12})
    assert made.height_share == (0.05, 0.1, 0.1, 0.2, 0.3)
    assert made.correlation_h == 12.0
    assert made.wind_m_s == ErrorModel().wind_m_s
    assert own_model(None) is None


def test_one_number_counts_at_every_age():
    made = own_model({"lead_h": [0, 48], "height_share": 0.1, "period_s": 1, "direction_deg": 10,
                      "wind_m_s": [1, 2], "current_m_s": 0})  # fmt: skip
    assert made.height_share == (0.1, 0.1)
    assert made.current_m_s == (0.0, 0.0)


def test_all_that_is_wrong_is_reported_at_once():
    table = {"hieght_share": 0.1, "direction_deg": "ten", "wind_m_s": [900.0], "correlation_h": [1]}
    with pytest.raises(PassageError) as caught:
        own_model(table, "passage.toml: [forecast_error]")
    lines = str(caught.value).split("\n")
    assert len(lines) == 4
    assert all(line.startswith("passage.toml: [forecast_error]: ") for line in lines)
    assert "Did you mean height_share?" in lines[0]
    assert "over 15 m/s" in lines[2]


@pytest.mark.parametrize(
    ("table", "words"),
    [
        ({"height_share": [0.1, 0.2]}, "one for each lead_h"),
        ({"lead_h": [0, 24]}, "must be given as well"),
        ({"lead_h": [24, 0, 72, 120, 240]}, "must increase"),
        ({"height_share": -0.1}, "not below 0"),
        ({"wind_m_s": [True]}, "must be"),
        ({"height_wind": 2}, "0 to 1"),
    ],
)
def test_numbers_that_mean_nothing_are_refused(table, words):
    with pytest.raises(PassageError, match=words):
        own_model(table)
