"""The examples in the docstrings of what users call first."""

from __future__ import annotations

import doctest
import inspect
import shutil
from pathlib import Path

import pytest

import passage

SAMPLES = Path(__file__).parents[2] / "sample_forecasts"
FIRST = (
    "read_vessel", "read_route", "open_forecast", "plan", "compare", "heel",
    "roll", "fin_offset", "added_resistance", "comfort",
)  # fmt: skip


@pytest.mark.parametrize("name", FIRST)
def test_docstring_example_gives_the_output_shown(name, tmp_path, monkeypatch):
    for path in SAMPLES.glob("*"):
        if path.suffix in (".nc", ".csv", ".toml"):
            shutil.copy(path, tmp_path)
    monkeypatch.chdir(tmp_path)
    text = inspect.getdoc(getattr(passage, name))
    test = doctest.DocTestParser().get_doctest(text, {"passage": passage}, name, None, 0)
    assert test.examples
    said: list[str] = []
    outcome = doctest.DocTestRunner().run(test, out=said.append)
    assert outcome.failed == 0, "".join(said)
