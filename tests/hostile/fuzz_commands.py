"""Whole commands on damaged inputs: every command, format and output, in this process."""

from __future__ import annotations

import random
import shutil
from pathlib import Path

import case
import fuzz_base
import fuzz_forecast
import fuzz_mutants
import fuzz_text

#: Command, formats, and whether the answer may be written to a file with -o.
COMMANDS = {
    "plan": (case.PLAN, ("table", "csv", "json", "netcdf", "html"), True),
    "compare": (case.COMPARE, ("table", "csv", "json", "netcdf", "html"), True),
    "heel": (case.HEEL, ("table", "csv", "json", "html"), True),
    "suggest": (case.SUGGEST, (), False),
    "season": (case.SEASON, ("table", "csv", "json", "html"), False),
    "check": (("check", "{sea}", "--route", "{route}"), (), False),
    "calibrate": (("calibrate", "{log}", "--vessel", "{vessel}"), (), False),
    "decay": (("decay", "{decay}", "--vessel", "{vessel}"), ("table", "json"), False),
    "hindcast": (("hindcast", "{sea}", "-o", "{out}/h.nc"), (), False),
}
#: Which inputs a command reads.
READS = {
    "check": ("sea", "route"), "calibrate": ("log", "vessel"), "decay": ("decay", "vessel"),
    "hindcast": ("sea",),
}  # fmt: skip
ALL = ("vessel", "route", "sea", "sea")
CODES = {0, 2, 3, 4, 5, 6}


class WholeCommands(fuzz_base.Kind):
    """One damaged input, one command; whatever comes of it must be whole and in words."""

    def warm(self) -> None:
        self.bench = case.Bench(self.seed / "bench")
        peaks = [f"{3.9 * k:.2f},{12.0 * (-1) ** k * 0.89**k:.3f}" for k in range(14)]
        text = "\n".join(["time_s,roll_deg", *peaks, ""])
        for name, content in (("log", fuzz_text.log_text()), ("decay", text)):
            self.bench.files[name] = self.bench.inputs / f"{name}.csv"
            self.bench.files[name].write_text(content)
        self.sound = {k: v for k, v in self.bench.files.items() if k != "out"}
        # What is compiled or kept on first use must not count for a mutant.
        for words in (case.PLAN, case.SEASON, case.HEEL):
            case.run_here(self.bench.words(words))

    def make(self, chance: random.Random, folder: Path) -> tuple[Path, str]:
        self.command = chance.choice(sorted(COMMANDS))
        words, formats, to_file = COMMANDS[self.command]
        part = chance.choice(READS.get(self.command, ALL))
        source = self.sound[part]
        path = folder / f"mutant{source.suffix}"
        if part == "sea" and chance.random() < 0.5:
            shutil.copy(source, path)
            how = fuzz_forecast.make_absurd(path, chance)
        else:
            binary = part == "sea"
            spoil = fuzz_mutants.spoil_binary if binary else fuzz_mutants.spoil_bytes
            path.write_bytes(spoil(source.read_bytes(), chance))
            how = "bytes"
        self.files = self.sound | {part: path, "out": self.bench.out}
        self.words = [*words]
        self.form = chance.choice(formats) if formats else ""
        if self.form:
            self.words += ["--format", self.form]
        self.target: Path | None = None
        if to_file and (self.form in ("netcdf", "html") or chance.random() < 0.4):
            self.target = self.bench.out / f"answer.{self.form}"
            self.words += ["-o", str(self.target)]
        for flag in ("--strict", "--fail-on-limit"):
            if self.command in ("plan", "compare") and chance.random() < 0.2:
                self.words.append(flag)
        return path, f"{self.command} {self.form} {part} {how}"

    def judge(self, path: Path) -> str:
        for left in self.bench.out.iterdir():
            shutil.rmtree(left) if left.is_dir() else left.unlink()
        self.bench.files = self.files
        ended = case.run_here(self.bench.words(tuple(self.words)))
        assert ended.code in CODES, f"exit code {ended.code}"
        assert "Traceback" not in ended.stderr
        return fuzz_base.whole_or_refused(ended, self.bench.out, self.target, self.form)
