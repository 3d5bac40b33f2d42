"""One way of saying a hostile case: words for the command line, what is done first, what must come.

A case runs the whole command in this process, as ``passage`` itself would, in a folder
with a sound vessel, route and forecast. Whatever comes of it: no traceback, no input
changed, nothing half-written, and words where it is refused.
"""

from __future__ import annotations

import contextlib
import hashlib
import io
import sys
from collections.abc import Callable
from dataclasses import dataclass, field
from pathlib import Path

import forecast_maker as maker
import fuzz_base
from fuzz_text import VESSEL_TEXT

#: Words of a command that are replaced by files of the bench.
LEAVE = ("--departure", "2026-03-14T01:00Z", "--minutes", "120")
INPUTS = ("--vessel", "{vessel}", "--forecast", "{sea}")
DAYS = ("--from", "2026-03-14", "--to", "2026-03-14T02:00Z", "--every", "1")
PLAN = ("plan", "{route}", *INPUTS, *LEAVE)
COMPARE = ("compare", "{route}", *INPUTS, *LEAVE)
HEEL = ("heel", "{route}", *INPUTS, *LEAVE, "--seconds", "1")
SEASON = ("season", "{route}", *INPUTS, *DAYS, "-o", "{out}/season")
SUGGEST = ("suggest", "{route}", *INPUTS, "--departure", "2026-03-14T01:00Z", "--speed", "12",
           "--cell", "10")  # fmt: skip


@dataclass(frozen=True)
class Case:
    """``before`` changes files of the bench; ``code`` and ``says`` are what must come of it.

    ``says`` must be on stderr, or on stdout where the code is 0; ``writes`` are the
    names, under the folder of outputs, that must be there afterwards, and no others.
    """

    what: str
    command: tuple[str, ...]
    code: int
    says: tuple[str, ...] = ()
    before: Callable[[Bench], None] | None = None
    writes: tuple[str, ...] = ()

    def __str__(self) -> str:
        return self.what


@dataclass
class Ended:
    """What came of a command."""

    code: int
    stdout: str
    stderr: str


@dataclass
class Bench:
    """A folder with one sound file of every kind, and one for outputs."""

    folder: Path
    files: dict[str, Path] = field(default_factory=dict)

    def __post_init__(self) -> None:
        inputs, out = self.folder / "inputs", self.folder / "out"
        inputs.mkdir(parents=True, exist_ok=True)  # there already after a crash of the mill's child
        out.mkdir(exist_ok=True)
        self.files = {
            "vessel": inputs / "vessel.toml", "route": inputs / "route.csv",
            "sea": inputs / "sea.nc", "out": out,
        }  # fmt: skip
        self.files["vessel"].write_text(VESSEL_TEXT)
        self.files["route"].write_text(fuzz_base.ROUTE)
        maker.write_forecast(self.files["sea"], maker.sea() | maker.wind() | maker.current())

    @property
    def inputs(self) -> Path:
        return self.folder / "inputs"

    @property
    def out(self) -> Path:
        return self.files["out"]

    def words(self, command: tuple[str, ...]) -> list[str]:
        named = {name: str(path) for name, path in self.files.items()}
        return [word.format(**named) if "{" in word else word for word in command]

    def listing(self) -> dict[str, str]:
        """Every plain input and its hash."""
        return {
            str(path.relative_to(self.inputs)): hashlib.sha256(path.read_bytes()).hexdigest()
            for path in sorted(self.inputs.rglob("*"))
            if path.is_file()
        }


def run_here(words: list[str]) -> Ended:
    """The program's own main, in this process."""
    from passage.cli.main import main

    out = io.TextIOWrapper(io.BytesIO(), encoding="utf-8", write_through=True)
    err = io.StringIO()
    argv, sys.argv = sys.argv, ["passage", *words]
    code = 0
    try:
        with contextlib.redirect_stdout(out), contextlib.redirect_stderr(err):
            try:
                main()
            except SystemExit as end:
                code = end.code if isinstance(end.code, int) else 1
    finally:
        sys.argv = argv
    return Ended(code, out.buffer.getvalue().decode(), err.getvalue())  # type: ignore[attr-defined]


def check(case: Case, bench: Bench) -> Ended:
    """Run a case and hold it against what must come of it."""
    if case.before is not None:
        case.before(bench)
    before = bench.listing()
    ended = run_here(bench.words(case.command))
    assert ended.code == case.code, f"exit {ended.code}: {ended.stderr[-1500:]}"
    assert "Traceback" not in ended.stderr
    said = ended.stderr + (ended.stdout if ended.code == 0 else "")
    for word in case.says:
        assert word in said or word in " ".join(said.split()), f"{word!r} is not in: {said[-3000:]}"
    assert bench.listing() == before, "an input was changed"
    left = sorted(str(p.relative_to(bench.out)) for p in bench.out.iterdir())
    assert left == sorted(case.writes)
    if ended.code not in (0, 5, 6):
        lines = ended.stderr.strip().splitlines()
        assert lines, "refused without a word"
        assert all(len(line) < 2000 for line in lines)
    return ended
