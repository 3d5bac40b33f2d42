"""Files that are not there: all of them in one message, before any is read."""

from __future__ import annotations

from pathlib import Path

import pytest

from passage.api.given import all_there
from passage.errors import ForecastError, PassageError, RouteError, VesselError


@pytest.mark.parametrize(
    ("routes", "vessel", "sea", "kind"),
    [
        (["r.csv"], "v.toml", ["f.nc"], RouteError),
        (["here"], "v.toml", ["f.nc", "g.nc"], VesselError),
        (["here"], "here", ["f.nc", "g.nc", "*.nc"], ForecastError),
    ],
)
def test_all_that_is_missing_is_named_with_the_code_of_the_first(
    tmp_path, routes, vessel, sea, kind
):
    (tmp_path / "here").touch()
    given = [[tmp_path / name for name in names] for names in (routes, [vessel], sea)]
    with pytest.raises(PassageError) as found:
        all_there(given[0], given[1], tuple(given[2]))
    assert type(found.value) is kind
    gone = [name for name in (*routes, vessel, *sea) if name not in ("here", "*.nc")]
    assert [line.split(": ")[0] for line in str(found.value).splitlines()] == [
        str(tmp_path / name) for name in gone
    ]


def test_one_missing_file_is_left_to_its_reader(tmp_path):
    (tmp_path / "here").touch()
    here, gone = tmp_path / "here", tmp_path / "gone"
    for given in (([gone], [here], (here,)), ([here], [gone], (here,)), ([here], [here], (gone,))):
        assert all_there(*given) is None
    assert all_there([Path("a" * 5000)], ["read"], (Path("b" * 5000),)) is None
