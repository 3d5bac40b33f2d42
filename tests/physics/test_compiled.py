"""What the compiler keeps on disk follows every file that goes into it."""

from __future__ import annotations

import os
import subprocess
import sys

import pytest

from passage.sources import digest_with_imports

PART = """
from passage.physics.compiled import compile_part
from kernelsample.numbers import ADDED

@compile_part
def part(x):
    return {factor} * x + ADDED
"""
LOOP = """
from passage.physics.compiled import compile_loop
from kernelsample.inner.part import part

@compile_loop
def loop(x):
    return part(x)
"""


@pytest.fixture
def sample(tmp_path):
    """A package with a loop, a part of it in another file, and a constant in a third."""
    top = tmp_path / "kernelsample"
    (top / "inner").mkdir(parents=True)
    for folder in (top, top / "inner"):
        (folder / "__init__.py").write_text("")
    (top / "numbers.py").write_text("ADDED = 0.0\n")
    (top / "unrelated.py").write_text("A = 1\n")
    (top / "inner" / "part.py").write_text(PART.format(factor=2.0))
    (top / "loop.py").write_text(LOOP)
    return top


def answer(top) -> float:
    code = "from kernelsample.loop import loop; print(loop(3.0))"
    paths = os.pathsep.join([str(top.parent), os.environ.get("PYTHONPATH", "")])
    run = subprocess.run(
        [sys.executable, "-B", "-c", code],
        env={**os.environ, "PYTHONPATH": paths, "NUMBA_CACHE_DIR": str(top.parent / "kept")},
        capture_output=True,
        text=True,
        check=True,
    )
    return float(run.stdout)


def test_a_change_in_an_inlined_file_or_a_constant_is_compiled(sample) -> None:
    assert answer(sample) == 6.0
    (sample / "inner" / "part.py").write_text(PART.format(factor=5.0))
    assert answer(sample) == 15.0
    (sample / "numbers.py").write_text("ADDED = 1.0\n")
    assert answer(sample) == 16.0


def test_the_digest_follows_imports_and_nothing_else(sample) -> None:
    def digest() -> str:
        digest_with_imports.cache_clear()
        return digest_with_imports(str(sample / "loop.py"), str(sample))

    first = digest()
    (sample / "unrelated.py").write_text("A = 2\n")
    assert digest() == first
    (sample / "numbers.py").write_text("ADDED = 1.0\n")
    second = digest()
    assert second != first
    more = "from kernelsample import (\n    numbers,\n    unrelated,\n)\n"
    (sample / "loop.py").write_text(more + LOOP)
    third = digest()
    (sample / "unrelated.py").write_text("A = 3\n")
    assert len({first, second, third, digest()}) == 4
