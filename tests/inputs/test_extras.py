"""Missing, broken and outdated packages of an extra are distinguished."""

from __future__ import annotations

import re
import sys
import tomllib
from pathlib import Path

import pytest

from passage.errors import ForecastError
from passage.inputs.extras import trouble_with
from passage.inputs.forecast.opener import open_file

ROOT = Path(__file__).parents[2]


@pytest.fixture
def package(tmp_path, monkeypatch):
    """Makes a package of a name that no installed one has."""
    monkeypatch.syspath_prepend(str(tmp_path))

    def make(text: str) -> str:
        (tmp_path / "invented_reader.py").write_text(text, encoding="utf-8")
        return "invented_reader"

    yield make
    sys.modules.pop("invented_reader", None)


def test_missing_broken_and_old_packages_have_their_own_messages(package) -> None:
    what, fix = trouble_with("invented_reader", "season") or ("", "")
    assert "is not installed" in what
    assert "pip install 'passage[season]'" in fix
    name = package("raise RuntimeError('its library is of another version')\n")
    what, fix = trouble_with(name, "season") or ("", "")
    assert "cannot be loaded (its library is of another version)" in what
    assert "--force-reinstall" in fix
    package("__version__ = '2.18.7'\n")
    what, fix = trouble_with(name, "season", 3) or ("", "")
    assert "version 2.18.7, and 3 or later is needed" in what
    assert "install -U" in fix
    assert trouble_with(name, "season", 2) is None
    assert trouble_with(name, "season") is None


def test_a_broken_reader_is_not_reported_missing(tmp_path, monkeypatch) -> None:
    store = tmp_path / "sea.zarr"
    store.mkdir()
    (store / ".zgroup").write_text('{"zarr_format": 2}', encoding="utf-8")
    broken = tmp_path / "broken"
    broken.mkdir()
    (broken / "zarr.py").write_text("raise ImportError('numcodecs is too new')\n", encoding="utf-8")
    for name in [n for n in sys.modules if n == "zarr" or n.startswith("zarr.")]:
        monkeypatch.delitem(sys.modules, name)
    monkeypatch.syspath_prepend(str(broken))
    with pytest.raises(ForecastError, match=r"cannot be loaded \(numcodecs is too new"):
        open_file(store)


def test_the_declared_version_is_the_one_asked_for() -> None:
    data = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))
    extra = data["project"]["optional-dependencies"]["season"]
    bounds = [re.match(r"zarr>=(\d+)", word) for word in extra]
    assert [m[1] for m in bounds if m] == ["3"]
