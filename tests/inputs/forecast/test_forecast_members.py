"""Members go by their numbers, not by their order in the file; one speaks for all."""

import netCDF4
import numpy as np
import pytest

from passage.errors import ForecastError
from passage.inputs.forecast import open_forecast

#: Wave height of the member of each number. [m]
HEIGHT = {0: 1.0, 1: 3.0, 2: 2.5, 3: 1.5, 4: 2.0}


@pytest.fixture
def make_ensemble(make_forecast, maker):
    def made(numbers, gap=None, **more):
        def height(lat, lon, hour, member):
            return np.take([HEIGHT[n] for n in numbers], member) + 0.0 * lat

        fixed = {k: maker.Made(v.values, v.units, v.standard_name) for k, v in maker.sea().items()}
        fixed["hs"] = maker.Made(height, "m", fixed["hs"].standard_name)
        path = make_forecast(fixed, members=len(numbers), **more)
        with netCDF4.Dataset(path, "a") as nc:
            nc["realization"][:] = numbers
            if gap is not None:
                nc["hs"][numbers.index(gap), 1] = np.nan
        return path

    return made


def heights(path):
    with open_forecast(path) as forecast:
        every = forecast.sample(49.0, -7.0, forecast.time_from_s, member=np.arange(len(HEIGHT)))
        return [round(float(h), 3) for h in every.height_m[:, 0]], forecast.members


def test_the_order_in_the_file_changes_nothing(make_ensemble):
    found = [heights(make_ensemble(numbers)) for numbers in ([0, 1, 2, 3, 4], [3, 1, 4, 0, 2])]
    assert found[0] == found[1]
    assert found[0][0] == list(HEIGHT.values())
    assert found[0][1].first == "member 0, the control run"


def test_without_a_control_run_the_middle_member_speaks_for_all(make_ensemble):
    for numbers in ([1, 2, 3, 4], [4, 3, 2, 1]):
        path = make_ensemble(numbers)
        with open_forecast(path) as forecast:
            height = forecast.sample(49.0, -7.0, forecast.time_from_s).height_m
            # Of 2.0 and 2.5 m the higher.
            assert height == pytest.approx(2.5, rel=1e-9)
            assert forecast.members.first == "member 2, the middle one by wave height"


def test_a_member_with_gaps_does_not_speak_and_is_named(make_ensemble):
    found, members = heights(make_ensemble([0, 1, 2, 3, 4], gap=0))
    assert found[0] == 2.5
    assert sorted(found) == sorted(HEIGHT.values())
    assert members.gaps == (1,)
    assert "member 0 has gaps that the others do not have, 4 are whole" in members.note


def test_files_of_other_members_are_refused(make_ensemble, tmp_path):
    early = make_ensemble([0, 1, 2])
    late = make_ensemble([0, 1, 3], hours=np.arange(0.0, 25.0, 3.0) + 240.0, name="later.nc")
    with pytest.raises(ForecastError, match=r"members 0, 1, 3, and .* has 0, 1, 2"):
        open_forecast([early, late])


def test_files_of_other_members_are_refused_beside_one_without_numbers(make_ensemble):
    hours = np.arange(0.0, 25.0, 3.0)
    # Numbers given twice are none.
    files = [
        make_ensemble(numbers, hours=hours + 240.0 * at, name=f"part{at}.nc")
        for at, numbers in enumerate(([0, 0, 0], [0, 1, 2], [0, 1, 3]))
    ]
    with pytest.raises(ForecastError, match=r"members 0, 1, 3, and .* has 0, 1, 2"):
        open_forecast(files)
