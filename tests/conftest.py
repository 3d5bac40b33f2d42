"""Fixtures shared by the tests."""

from __future__ import annotations

import importlib.util
import os
import sys
import tempfile
from collections.abc import Callable
from pathlib import Path
from types import ModuleType

# Before anything lets xarray look for its engines: those load the GRIB library, whose
# copy of PROJ must not come before that of pyproj (memory is corrupted otherwise).
import pyproj  # noqa: F401
import pytest

_HERE = Path(__file__).parent

# Tests must not live on what lies in the user's cache folder, nor fill it.
if "PASSAGE_CACHE" not in os.environ:
    _KEPT = tempfile.TemporaryDirectory(prefix="passage-cache-", ignore_cleanup_errors=True)
    os.environ["PASSAGE_CACHE"] = _KEPT.name
# Nor on the defaults of whoever runs them.
os.environ["PASSAGE_DEFAULTS"] = "off"
# What goes to stderr must not hang on how busy the machine is.
os.environ["PASSAGE_PROGRESS"] = "off"


def _load(name: str) -> ModuleType:
    """Import a module that lies beside the tests (they are not on sys.path)."""
    if name not in sys.modules:
        spec = importlib.util.spec_from_file_location(name, _HERE / f"{name}.py")
        assert spec is not None
        assert spec.loader is not None
        module = importlib.util.module_from_spec(spec)
        sys.modules[name] = module
        spec.loader.exec_module(module)
    return sys.modules[name]


@pytest.fixture(scope="session")
def maker() -> ModuleType:
    """The module ``forecast_maker``: sets of variables and ``write_forecast``."""
    return _load("forecast_maker")


@pytest.fixture
def make_forecast(maker: ModuleType, tmp_path: Path) -> Callable[..., Path]:
    """``make_forecast(variables=None, *, name="sea.nc", **options) -> Path``."""

    def make(variables=None, *, name: str = "sea.nc", **options) -> Path:
        return maker.write_forecast(tmp_path / name, variables, **options)

    return make


@pytest.fixture(scope="session")
def open_data() -> Path:
    """Folder of real files, or a skip with the reason."""
    folder = _HERE.parents[1] / "shared" / "open_data"
    if not folder.is_dir():
        pytest.skip(f"real files are not here ({folder})")
    return folder


@pytest.fixture(scope="session")
def load_helper() -> Callable[[str], ModuleType]:
    """Import a module that lies beside the tests: ``load_helper("planning_scenario")``."""
    return _load
