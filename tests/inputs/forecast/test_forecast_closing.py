"""Files opened before another fails are closed again."""

from __future__ import annotations

import pytest

from passage.inputs.forecast import opening
from passage.inputs.forecast.opener import OpenFile


@pytest.fixture
def closed(monkeypatch):
    """Names of files closed, in order."""
    names: list[str] = []
    real = OpenFile.close

    def close(self) -> None:
        names.append(self.path.name)
        real(self)

    monkeypatch.setattr(OpenFile, "close", close)
    return names


@pytest.mark.parametrize("function", ["recognise_files", "open_forecast"])
def test_a_failure_while_recognising_closes_all(
    function, closed, make_forecast, maker, monkeypatch
) -> None:
    paths = [make_forecast(maker.sea(), name="a.nc"), make_forecast(maker.wind(), name="b.nc")]
    real = opening.recognise

    def fails_on_the_second(file, mapping):
        if file.path.name == "b.nc":
            raise MemoryError("no room")
        return real(file, mapping)

    monkeypatch.setattr(opening, "recognise", fails_on_the_second)
    with pytest.raises(MemoryError):
        getattr(opening, function)(paths)
    assert sorted(closed) == ["a.nc", "b.nc"]


def test_a_failure_of_any_kind_while_opening_closes_the_others(
    closed, make_forecast, maker, monkeypatch
) -> None:
    paths = [make_forecast(maker.sea(), name="a.nc"), make_forecast(maker.wind(), name="b.nc")]
    real = opening.open_file

    def interrupted(path, **more):
        if path.name == "b.nc":
            raise KeyboardInterrupt
        return real(path, **more)

    monkeypatch.setattr(opening, "open_file", interrupted)
    with pytest.raises(KeyboardInterrupt):
        opening.recognise_files(paths)
    assert closed == ["a.nc"]


def test_a_failure_after_recognising_closes_all(closed, make_forecast, maker, monkeypatch) -> None:
    path = make_forecast(maker.sea(), name="a.nc")

    def fails(*_):
        raise MemoryError("no room")

    monkeypatch.setattr(opening, "_preload", fails)
    with pytest.raises(MemoryError):
        opening.open_forecast(path)
    assert closed == ["a.nc"]


def test_what_opens_stays_open(closed, make_forecast, maker) -> None:
    with opening.open_forecast(make_forecast(maker.sea(), name="a.nc")) as sea:
        assert closed == []
        sea.sample(49.0, -7.0, sea.time_from_s)
    assert closed == ["a.nc"]
