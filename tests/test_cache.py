"""Kept results: found by content, whole or not at all, and never in the way."""

from __future__ import annotations

import os
import threading
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np
import pytest
from numpy.testing import assert_array_equal

from passage import cache, sources
from passage.inputs.vessel import read_vessel
from passage.physics.waves.spectrum import SWELL_WIDTH_RAD
from passage.planning.voyage.yacht import Yacht, kept_tables

SAMPLE = Path(__file__).parents[1] / "sample_forecasts" / "brambling.toml"
SEA = (6.0, [[2.0]], [[8.0]], [[1.2]], [[5.0]], [[SWELL_WIDTH_RAD]])


@dataclass(frozen=True)
class Hull:
    length_m: float
    name: str
    offsets: np.ndarray


@pytest.fixture(autouse=True)
def place(tmp_path, monkeypatch):
    """A cache folder of this test's own."""
    folder = tmp_path / "kept"
    monkeypatch.setenv(cache.VARIABLE, str(folder))
    return folder


def counted(values=(1.0, 2.0)):
    calls = []

    def make():
        calls.append(1)
        return {"values": np.array(values)}

    return make, calls


def test_a_second_request_makes_nothing() -> None:
    make, calls = counted()
    first = cache.kept("test", ("a", 1.0), make)
    second = cache.kept("test", ("a", 1.0), make)
    assert len(calls) == 1
    assert_array_equal(first["values"], second["values"])


def test_any_other_input_makes_it_anew() -> None:
    base = Hull(20.0, "one", np.arange(3.0))
    others = [
        replace(base, length_m=np.nextafter(20.0, 21.0)),
        replace(base, name="two"),
        replace(base, offsets=np.array([0.0, 1.0, 2.5])),
        replace(base, offsets=np.arange(3.0, dtype=np.float32)),
        (base,),
        None,
        [1, 23],
        [12, 3],
        ["1", 23],
        {"a": 1},
        {"a": 2},
        True,
        1,
        1.0,
        "1",
    ]
    digests = [cache.content(value) for value in (base, *others)]
    assert len(set(digests)) == len(digests)
    assert cache.content(replace(base)) == digests[0]


def test_what_has_no_content_is_refused() -> None:
    with pytest.raises(TypeError, match="function"):
        cache.content(lambda x: x)
    assert kept_tables("roll", lambda omega, mu, speed: omega) is None


@pytest.mark.parametrize("part", ["physics_digest", "__version__"])
def test_other_code_makes_it_anew(part, monkeypatch) -> None:
    make, calls = counted()
    cache.kept("test", 1, make)
    monkeypatch.setattr(cache, part, (lambda: "other") if callable(getattr(cache, part)) else "9.9")
    cache.kept("test", 1, make)
    assert len(calls) == 2


def test_the_digest_of_the_physics_follows_its_text(tmp_path, monkeypatch) -> None:
    (tmp_path / "physics" / "roll").mkdir(parents=True)
    (tmp_path / "units.py").write_text("A = 1\n")
    inner = tmp_path / "physics" / "roll" / "kernel.py"
    monkeypatch.setattr(sources, "__file__", str(tmp_path / "sources.py"))
    seen = []
    for text in ("x = 1\n", "x = 2\n", "x = 1\n"):
        inner.write_text(text)
        sources.physics_digest.cache_clear()
        seen.append(sources.physics_digest())
    sources.physics_digest.cache_clear()
    assert seen[0] == seen[2] != seen[1]


@pytest.mark.parametrize("word", ["off", "OFF", " 0 "])
def test_it_can_be_switched_off(word, monkeypatch, tmp_path) -> None:
    monkeypatch.setenv(cache.VARIABLE, word)
    monkeypatch.chdir(tmp_path)
    make, calls = counted()
    for _ in range(2):
        cache.kept("test", 1, make)
    assert len(calls) == 2
    assert list(tmp_path.iterdir()) == []


def test_an_unwritable_cache_folder_only_costs_time(tmp_path, monkeypatch) -> None:
    blocked = tmp_path / "a_file"
    blocked.write_text("in the way")
    monkeypatch.setenv(cache.VARIABLE, str(blocked / "kept"))
    make, calls = counted()
    for _ in range(2):
        assert_array_equal(cache.kept("test", 1, make)["values"], [1.0, 2.0])
    assert len(calls) == 2


@pytest.mark.parametrize("damage", ["cut", "flipped", "empty", "text"])
def test_a_damaged_file_is_made_anew(damage, place) -> None:
    make, calls = counted(np.arange(500.0))
    cache.kept("test", 1, make)
    (file,) = place.glob("*.npz")
    data = bytearray(file.read_bytes())
    data[len(data) // 2] ^= 0xFF
    file.write_bytes(
        {"cut": data[: len(data) // 2], "flipped": data, "empty": b"", "text": b"no"}[damage]
    )
    assert_array_equal(cache.kept("test", 1, make)["values"], np.arange(500.0))
    assert len(calls) == 2
    assert_array_equal(cache.kept("test", 1, make)["values"], np.arange(500.0))
    assert len(calls) == 2


def test_space_is_bounded_and_the_least_recently_used_goes_first(place, monkeypatch) -> None:
    monkeypatch.setattr(cache, "MOST_BYTES", 40_000)
    keys = [cache.item_key("test", n) for n in range(3)]
    for age, key in enumerate(keys[:2]):
        cache.save(key, {"values": np.zeros(1000)})
        os.utime(place / f"{key}.npz", (1000.0 + age, 1000.0 + age))
    assert cache.load(keys[0]) is not None  # used now, so the other one is the oldest
    for n in range(3, 6):
        cache.save(cache.item_key("test", n), {"values": np.zeros(1000)})
    assert cache.load(keys[1]) is None
    assert cache.load(keys[0]) is not None
    assert sum(file.stat().st_size for file in place.iterdir()) <= 40_000


def test_threads_that_keep_the_same_item_leave_one_whole_file(place) -> None:
    values = np.arange(20_000.0)
    threads = [
        threading.Thread(target=cache.save, args=("test-1", {"values": values})) for _ in range(6)
    ]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert [file.name for file in place.iterdir()] == ["test-1.npz"]
    found = cache.load("test-1")
    assert found is not None
    assert_array_equal(found["values"], values)


def test_tables_of_a_vessel_are_kept_and_give_the_same_bits(place, monkeypatch) -> None:
    vessel = read_vessel(SAMPLE)
    made = [tables.variance(*SEA) for tables in _tables(Yacht(vessel))]
    # Two of the sea; radiation, sections and speeds of strip theory, of which they are made.
    kinds = sorted(file.stem.rsplit("-", 1)[0] for file in place.glob("*.npz"))
    strips = ["strips-roll-radiation", "strips-sections", "strips-speed"]
    assert kinds == ["roll-table", "sea-table", *strips]

    def never(*_):
        raise AssertionError("integrated again")

    monkeypatch.setattr("passage.physics.waves.table.integrated", never)
    again = [tables.variance(*SEA) for tables in _tables(Yacht(vessel))]
    for one, two in zip(made, again, strict=True):
        assert_array_equal(one, two)
    monkeypatch.undo()
    monkeypatch.setenv(cache.VARIABLE, "off")
    for one, two in zip(made, _tables(Yacht(vessel)), strict=True):
        assert_array_equal(one, two.variance(*SEA))


def test_another_vessel_does_not_get_them() -> None:
    vessel = read_vessel(SAMPLE)
    hull = replace(vessel.particulars, beam_waterline_m=vessel.particulars.beam_waterline_m + 0.1)
    for one, two in zip(
        _tables(Yacht(vessel)), _tables(Yacht(replace(vessel, particulars=hull))), strict=True
    ):
        assert not np.array_equal(one.variance(*SEA), two.variance(*SEA))


def _tables(yacht):
    yacht.pin(6.0)
    return yacht.roll_tables, yacht.sea_tables
