"""The reason given for a miss that comes from how she was sailed."""

from types import SimpleNamespace

import pytest

from passage.planning.review.largest import _pushing


def leg(fins_h=0.0, speed_kn=0.0, way_nm=0.0):
    """A leg of ten hours sailed differently from the plan by so much."""
    pairs = {
        "fins_active": SimpleNamespace(miss=fins_h),
        "hours": SimpleNamespace(logged=10.0),
        "speed_through_water": SimpleNamespace(miss=speed_kn),
        "distance": SimpleNamespace(miss=way_nm),
    }
    return SimpleNamespace(pairs=pairs)


@pytest.mark.parametrize(
    ("key", "part", "sailed", "words"),
    [
        ("roll", 0.1, leg(fins_h=-1.8), "fins active 1.8 h less than planned"),
        ("roll", -0.1, leg(fins_h=1.8), "fins active 1.8 h more than planned"),
        # What pushes the other way, or is less than a twentieth of the time, is no reason.
        ("roll", -0.1, leg(fins_h=-1.8), ""),
        ("roll", 0.1, leg(fins_h=-0.4), ""),
        ("fuel", 9.0, leg(fins_h=-1.8, speed_kn=0.2), "0.2 kn faster through the water"),
        ("fuel", 9.0, leg(speed_kn=-0.2, way_nm=1.0), "1.0 nm longer"),
    ],
)
def test_small_differences_are_named_where_they_push_the_way_of_the_part(key, part, sailed, words):
    assert _pushing(sailed, key, part) == words
