"""A standing list in the vessel file is the same question as the options of a season."""

from pathlib import Path

import pytest

from passage.api.seasons import _season_setup, _with_standing
from passage.errors import VesselError
from passage.inputs.vessel.reader import vessel_from_text

SAMPLES = Path(__file__).parents[2] / "sample_forecasts"
SECTION = """
[standing]
lists_deg = [1.5, -1]
ballast_t = 4
ballast_y_m = -3.0
ballast_z_m = -1.5
passages_per_year = 30
ballast_cost = 4000.0
"""
NOTHING = {"passages_per_year": None, "ballast_cost": None, "ballast_years": None}


def vessel(section=SECTION):
    return vessel_from_text((SAMPLES / "brambling.toml").read_text("utf-8") + section)


def options(more):
    files = (SAMPLES / "direct.csv", SAMPLES / "brambling.toml", SAMPLES / "biscay_waves.nc")
    return _season_setup(*files, "2004-01-01", "2004-01-02", 6.0, (12.0,), None, 1, more)[1]


def test_section_and_options_ask_the_same():
    said = []
    more, prices = _with_standing(vessel(), {}, NOTHING, said.append)
    given = {"lists_deg": (1.5, -1.0), "ballast": (4.0, -3.0, -1.5)}
    assert options(more) == options(given)
    assert prices == {"passages_per_year": 30.0, "ballast_cost": 4000.0, "ballast_years": 10.0}
    assert said == []
    # Without the section nothing is taken.
    assert _with_standing(vessel(""), given, NOTHING, said.append) == (given, NOTHING)


def test_options_go_before_the_section_with_a_remark():
    said = []
    asked = {**NOTHING, "passages_per_year": 12.0, "ballast_cost": 4000.0}
    more, prices = _with_standing(vessel(), {"lists_deg": (2.0,)}, asked, said.append)
    assert more["lists_deg"] == (2.0,)
    assert more["ballast"] == (4.0, -3.0, -1.5)
    assert prices["passages_per_year"] == 12.0
    [line] = said
    assert "lists, passages a year as given" in line


@pytest.mark.parametrize(
    ("section", "words"),
    [
        ("\n[standing]\nlists_deg = [30.0]\n", "-15 to 15 deg"),
        ("\n[standing]\nlists_deg = [1.0]\nballast_t = 3.0\n", "ballast_y_m"),
        ("\n[standing]\nlists_deg = []\n", "lists_deg"),
    ],
)
def test_a_section_with_invalid_values_is_refused(section, words):
    with pytest.raises(VesselError, match=words):
        vessel(section)
