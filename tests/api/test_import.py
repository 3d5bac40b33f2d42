"""``import passage`` costs next to nothing, and offers all its names."""

from __future__ import annotations

import subprocess
import sys
import time

import pytest

import passage

#: Times the cost of numpy alone that importing the package may take.
MOST_TIMES_NUMPY = 1.3


def seconds(code: str) -> float:
    """The quickest of several fresh interpreters, less an empty one."""
    best = []
    for words in (code, "pass"):
        runs = []
        for _ in range(4):
            start = time.perf_counter()
            subprocess.run([sys.executable, "-c", words], check=True)
            runs.append(time.perf_counter() - start)
        best.append(min(runs))
    return best[0] - best[1]


def test_the_import_is_light() -> None:
    assert seconds("import passage") < MOST_TIMES_NUMPY * seconds("import numpy")


def test_import_loads_no_heavy_library() -> None:
    code = (
        "import sys, passage; assert 'plan' in dir(passage); "
        "heavy = {'numpy', 'xarray', 'pandas', 'numba', 'pydantic'} & set(sys.modules); "
        "assert not heavy, heavy"
    )
    subprocess.run([sys.executable, "-c", code], check=True)


@pytest.mark.parametrize("name", passage.__all__)
def test_every_public_name_exists_and_has_a_docstring(name) -> None:
    value = getattr(passage, name)
    assert name in dir(passage)
    if name != "__version__":
        assert value.__doc__


def test_an_unknown_name_is_an_attribute_error() -> None:
    with pytest.raises(AttributeError, match="no attribute 'plam'"):
        _ = passage.plam


def test_the_package_runs_as_a_program() -> None:
    run = subprocess.run(
        [sys.executable, "-m", "passage", "--version"], capture_output=True, text=True, check=True
    )
    assert passage.__version__ in run.stdout
