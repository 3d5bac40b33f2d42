"""The nomenclature page is the table of names, and the table is sound."""

from __future__ import annotations

import re

import pytest
from schema_tool import DOCS, tool

from passage.variables import BY_NAME, COVERAGE, LEG_VARIABLES

UNITS = {
    "_deg": "degree",
    "_m": "m",
    "_s": "s",
    "_kn": "knot",
    "_nm": "nautical_mile",
    "_n": "N",
    "_l": "L",
    "_percent": "percent",
    "_g": "1",
    "_deg_per_h": "degree hour-1",
    "_h": "hour",
    "_per_hour": "hour-1",
    "_per_minute": "minute-1",
}


def test_page_is_made_from_the_table() -> None:
    written = (DOCS / "nomenclature.md").read_text("utf-8")
    assert written == tool("make_nomenclature").page(), "run docs/tools/make_nomenclature.py"


def test_names_are_unique_and_explained() -> None:
    assert len(BY_NAME) == len(LEG_VARIABLES)
    for variable in LEG_VARIABLES:
        assert variable.meaning
        assert variable.heading
        assert variable.how in {"mean", "sum", "direction", "worst", "leg"}
    assert len(set(COVERAGE)) == len(COVERAGE)


@pytest.mark.parametrize("name", [v.name for v in LEG_VARIABLES if v.unit])
def test_unit_in_the_name_is_the_unit(name: str) -> None:
    if name == "hours":
        assert BY_NAME[name].unit == "hour"
        return
    found = [suffix for suffix in UNITS if re.search(rf"{suffix}$", name)]
    assert found, f"{name} carries no unit"
    assert BY_NAME[name].unit == UNITS[max(found, key=len)]
