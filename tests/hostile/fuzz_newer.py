"""Whole commands on the inputs beside vessel, route and sea, one of them damaged.

Plans and heel answers given back, lists of transfers, recordings, areas to keep out of,
defaults and variables, folders of forecasts, ensembles, short vessel files, sections.
"""

from __future__ import annotations

import contextlib
import json
import os
import random
import shutil
from collections.abc import Iterator
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import case
import forecast_maker as maker
import fuzz_base
import fuzz_forecast
import fuzz_mutants
import fuzz_text
import numpy as np

SHORT = """[vessel]
name = "Short"
length_waterline_m = 44.0
beam_waterline_m = 9.0
draught_m = 2.8
[roll]
natural_period_s = 7.8
[[fins]]
area_m2 = 2.0
[propulsion]
speed_kn = [8.0, 12.0, 14.0]
fuel_l_per_h = [62.0, 205.0, 340.0]
"""
SECTIONS = """sections = [
  { x_m = -22.0, breadth_m = 4.4, draught_m = 0.5, area_m2 = 1.4 },
  { x_m = -11.0, breadth_m = 8.6, draught_m = 2.6, area_m2 = 14.5 },
  { x_m = 0.0, breadth_m = 9.0, draught_m = 2.8, area_m2 = 21.0 },
  { x_m = 11.0, breadth_m = 7.0, draught_m = 2.8, area_m2 = 11.7 },
  { x_m = 22.0, breadth_m = 0.0, draught_m = 0.0, area_m2 = 0.0 },
]
[roll]"""
MOVES = "before_leg,from,to,m3\n1,fuel port,fuel starboard,2.0\n"
AREA = {
    "type": "FeatureCollection",
    "features": [{
        "type": "Feature", "properties": {"name": "firing area"},
        "geometry": {"type": "Polygon", "coordinates": [[
            [-7.2, 48.7], [-6.9, 48.7], [-6.9, 48.9], [-7.2, 48.9], [-7.2, 48.7],
        ]]},
    }],
}  # fmt: skip
DEFAULTS = """vessel = "vessel.toml"
forecast = ["seas", "sea.nc"]
minutes = 120
hold = "water"
heel = "limit"
fuel_price = 1.2
zone = "Europe/Madrid"
wide = true

[plan]
fins = "centred"

[compare]
comfort = "hours"
"""
#: What a value of JSON, TOML or a variable is replaced by.
ODD: tuple[Any, ...] = (
    None, True, False, 0, -1, 1, 2, 1e308, -1e308, 1e-320, 10**30, "", "x", "nan", "-5", [], {},
    [[]], [None], {"a": 1}, "2026-03-14T06:00Z", "A" * 5000, "\u202e", "\x00",
    float("nan"), float("inf"),
)  # fmt: skip
VARIABLES = ("VESSEL", "FORECAST", "MINUTES", "HOLD", "HEEL", "FINS", "COMFORT", "ZONE", "WIDE",
             "FUEL_PRICE", "NO_GO", "RESPONSES", "PLAN_MINUTES", "COMPARE_COMFORT", "DRAWS",
             "DEFAULTS", "WAVES", "SINGLE_TIME", "NEAREST_SEA_CELL", "MAP")  # fmt: skip
WORDS = ("", "nan", "inf", "-1", "0", "1e308", "x", "true", "off", "./*", "**", "[", "~nobody/x",
         ":", "::", "/dev/zero", "/proc/self/mem", ".", "..", "Europe/Nowhere", "../../etc/passwd",
         "A" * 5000, "é\u202e", "1,5", "20", "water", "all", "%s", "\udce9")  # fmt: skip
HOURS = ("--departure", "2026-03-14T01:00Z")
QUICK = ("--draws", "0")
#: What is done: which input is damaged, how its command begins, its formats.
DEEDS: dict[str, tuple[str, tuple[str, ...], tuple[str, ...]]] = {
    "review, plan": ("plan.json", ("review", "{recording.csv}", "--plan", "{mutant}"),
                     ("table", "json")),
    "review, log": ("recording.csv", ("review", "{mutant}", "--plan", "{plan.json}"),
                    ("table", "json")),
    "review, averages": ("averages.csv", ("review", "{mutant}", "--plan", "{plan.json}"),
                         ("table", "json")),
    "review, sea": ("sea.nc", ("review", "{averages.csv}", "--plan", "{plan.json}", "--sea",
                               "{mutant}", "--forecast", "{sea.nc}"), ("table", "json")),
    "plan, heel answer": ("heel.json", (*case.PLAN, *QUICK, "--moves", "{mutant}"),
                          ("table", "json", "html")),
    "plan, transfers": ("moves.csv", (*case.PLAN, *QUICK, "--moves", "{mutant}"),
                        ("table", "json", "sheet")),
    "suggest, areas": ("area.geojson", (*case.SUGGEST, "--no-go", "{mutant}"), ()),
    "plan, members": ("members.nc", ("plan", "{route}", "--vessel", "{vessel}", "--forecast",
                                     "{mutant}", *case.LEAVE), ("table", "json", "netcdf")),
    "plan, draws": ("sea.nc", ("plan", "{route}", "--vessel", "{vessel}", "--forecast", "{mutant}",
                               *case.LEAVE, "--draws", "4"), ("table", "json", "html")),
    "plan, short vessel": ("short.toml", ("plan", "{route}", "--vessel", "{mutant}", "--forecast",
                                          "{sea}", *case.LEAVE, *QUICK),
                           ("table", "json", "sheet")),
    "heel, short vessel": ("short.toml", ("heel", "{route}", "--vessel", "{mutant}", "--forecast",
                                          "{sea}", *case.LEAVE, "--seconds", "1"),
                           ("table", "json")),
    "plan, sections": ("sections.toml", ("plan", "{route}", "--vessel", "{mutant}", "--forecast",
                                         "{sea}", *case.LEAVE, *QUICK), ("table", "json")),
    "check, vessel": ("sections.toml", ("check", "--vessel", "{mutant}"), ()),
    "check, short": ("short.toml", ("check", "--vessel", "{mutant}"), ()),
    "check, folder": ("sea.nc", ("check", "{folder}"), ()),
    "plan, folder": ("sea.nc", ("plan", "{route}", "--vessel", "{vessel}", "--forecast",
                                "{folder}", *case.LEAVE, *QUICK), ("table", "json")),
    "compare, folder": ("sea.nc", ("compare", "{route}", "--vessel", "{vessel}", "--forecast",
                                   "{folder}", *case.LEAVE), ("table", "json")),
    "season, speeds": ("sea.nc", ("season", "{route}", "--vessel", "{vessel}", "--forecast",
                                  "{mutant}", *case.DAYS, "-o", "{out}/season", "--speed", "10",
                                  "--speed", "13"), ("table", "json", "csv")),
    "compare, by leg": ("route", ("compare", "{mutant}", *case.INPUTS, *case.LEAVE, "--by-leg",
                                  "--speed", "9", "--speed", "12"), ("table", "json")),
    "plan, arrive": ("route", ("plan", "{mutant}", *case.INPUTS, *case.LEAVE, *QUICK, "--arrive",
                               "2026-03-14T09:00Z"), ("table", "json")),
    "plan, defaults": ("passage.toml", ("plan", "{route}", *HOURS, *QUICK), ("table", "json")),
    "compare, defaults": ("passage.toml", ("compare", "{route}", *HOURS), ("table", "json")),
    "defaults, file": ("passage.toml", ("defaults",), ()),
    "plan, variables": ("", (*case.PLAN, *QUICK), ("table", "json")),
    "defaults, variables": ("", ("defaults",), ()),
}  # fmt: skip


def recording(every_s: float, hours: float) -> str:
    """An invented log of the short route: positions, speed, fuel, roll and fins."""
    rows = ["time,lat,lon,speed_through_water_kn,fuel_l_per_h,roll_deg,fin_angle_deg,fins"]
    for t in np.arange(0.0, hours * 3600.0, every_s):
        when = datetime.fromtimestamp(fuzz_base.DEPARTURE_S + t, UTC)
        share, turn = t / (hours * 3600.0), t / 1.24
        rows.append(
            f"{when:%Y-%m-%dT%H:%M:%SZ},{48.3 + 1.1 * share:.5f},{-7.5 + share:.5f},11.9,"
            f"{203 + 3 * np.sin(t):.1f},{2.5 * np.sin(turn):.2f},{5 * np.cos(turn):.1f},active"
        )
    return "\n".join(rows) + "\n"


def spoil_json(data: bytes, chance: random.Random) -> bytes:
    """One to three values of a JSON text swapped for odd ones, taken out, or named anew."""
    tree = json.loads(data)
    for _ in range(chance.randint(1, 3)):
        at: Any = tree
        while True:
            keys = list(at) if isinstance(at, dict) else range(len(at))
            if not keys:
                break
            key = chance.choice(keys) if len(keys) < 4 else chance.choice(keys[:40])
            inner = at[key]
            if isinstance(inner, dict | list) and inner and chance.random() < 0.8:
                at = inner
                continue
            kind = chance.randrange(4)
            if kind < 2:
                at[key] = chance.choice(ODD)
            elif kind == 2:
                del at[key]
            elif isinstance(at, dict):
                at[f"{key}x"] = at.pop(key)
            else:
                at.append(inner)
            break
    return json.dumps(tree).encode()


def spoil_toml(data: bytes, chance: random.Random) -> bytes:
    """A value of a TOML text swapped for an odd one."""
    lines = data.decode().splitlines(keepends=True)
    for _ in range(chance.randint(1, 2)):
        at = chance.choice([i for i, line in enumerate(lines) if " = " in line])
        key = lines[at].partition(" = ")[0]
        if "{" in key:  # a row of a table of sections
            old = chance.choice([w for w in lines[at].split() if any(c.isdigit() for c in w)])
            lines[at] = lines[at].replace(old, chance.choice(fuzz_text.VesselText.weird), 1)
        else:
            lines[at] = f"{key} = {chance.choice(fuzz_text.VesselText.weird)}\n"
    return "".join(lines).encode()


@contextlib.contextmanager
def surroundings(folder: Path, variables: dict[str, str]) -> Iterator[None]:
    """Work in a folder, with variables of the environment."""
    was, kept = Path.cwd(), dict(os.environ)
    os.environ.update(variables)
    os.chdir(folder)
    try:
        yield
    finally:
        os.chdir(was)
        os.environ.clear()
        os.environ.update(kept)


class NewerInputs(fuzz_base.Kind):
    """A damaged input of the others, one command; whatever comes of it is whole and in words."""

    def warm(self) -> None:
        self.bench = case.Bench(self.seed / "bench")
        texts = {
            "short.toml": SHORT,
            "sections.toml": fuzz_text.VESSEL_TEXT.replace("[roll]", SECTIONS, 1),
            "moves.csv": MOVES, "area.geojson": json.dumps(AREA), "passage.toml": DEFAULTS,
            "recording.csv": recording(1.0, 0.2), "averages.csv": recording(600.0, 7.0),
        }  # fmt: skip
        files = self.bench.files
        for name, text in texts.items():
            files[name] = self.bench.inputs / name
            files[name].write_text(text)
        files["sea.nc"] = files["sea"]
        files["members.nc"] = maker.write_forecast(
            self.bench.inputs / "members.nc", maker.sea(), members=3, run="2026-03-14T00:00"
        )
        for name, words in (("plan.json", case.PLAN), ("heel.json", case.HEEL)):
            ended = case.run_here(self.bench.words((*words, "--format", "json")))
            assert ended.code == 0, ended.stderr
            files[name] = self.bench.inputs / name
            files[name].write_text(ended.stdout)
        self.sound = dict(files)
        case.run_here(self.bench.words(case.SEASON))  # compiles; no mutant's time

    def make(self, chance: random.Random, folder: Path) -> tuple[Path, str]:
        deed = chance.choice(sorted(DEEDS))
        part, words, formats = DEEDS[deed]
        self.variables: dict[str, str] = {}
        here = folder / "here"
        here.mkdir()
        for name in ("vessel", "sea"):
            shutil.copy(self.sound[name], here)
        source = self.sound[part] if part else None
        path = here / "mutant.txt"
        if source is None:
            for name in chance.sample(VARIABLES, chance.randint(1, 3)):
                self.variables[f"PASSAGE_{name}"] = chance.choice(WORDS).replace("\x00", "")
            path.write_text(repr(self.variables))
        else:
            path = here / ("passage.toml" if part == "passage.toml" else f"mutant{source.suffix}")
            self.spoil(source, path, chance)
        self.files = self.sound | {"mutant": path, "folder": here}
        self.words = list(words)
        self.form = chance.choice(formats) if formats else ""
        if self.form:
            self.words += ["--format", self.form]
        self.target: Path | None = None
        if formats and (
            self.form in ("netcdf", "html") or chance.random() < 0.3
        ) and "{out}/season" not in words:  # fmt: skip
            self.target = self.bench.out / f"answer.{self.form}"
            self.words += ["-o", str(self.target)]
        return path, f"{deed} {self.form} {self.variables or ''}"

    @staticmethod
    def spoil(source: Path, path: Path, chance: random.Random) -> None:
        data = source.read_bytes()
        if source.suffix == ".nc":
            if chance.random() < 0.6:
                path.write_bytes(data)
                fuzz_forecast.make_absurd(path, chance)
                return
            path.write_bytes(fuzz_mutants.spoil_binary(data, chance))
            return
        if source.suffix in (".json", ".geojson") and chance.random() < 0.7:
            data = spoil_json(data, chance)
        elif source.suffix == ".toml" and chance.random() < 0.6:
            data = spoil_toml(data, chance)
        elif chance.random() < 0.07:
            data = fuzz_mutants.recoded(data, chance)
        else:
            data = fuzz_mutants.spoil_bytes(data, chance)
        path.write_bytes(data)

    def judge(self, path: Path) -> str:
        for left in self.bench.out.iterdir():
            shutil.rmtree(left) if left.is_dir() else left.unlink()
        self.bench.files = self.files
        # Names with a dot are no words of str.format.
        words = list(self.words)
        for name, file in self.files.items():
            words = [word.replace(f"{{{name}}}", str(file)) for word in words]
        on = {"PASSAGE_DEFAULTS": "on"} | self.variables
        with surroundings(path.parent, on):
            ended = case.run_here(words)
        assert ended.code in (0, 2, 3, 4, 5, 6), f"exit code {ended.code}: {ended.stderr}"
        assert "Traceback" not in ended.stderr
        said = ended.stderr.replace(str(self.seed), "")
        assert all(len(line) < 2000 for line in said.splitlines()), f"endless: {said[:400]}"
        assert all(c.isprintable() or c in "\n\r\t" for c in said), repr(said[:800])
        return fuzz_base.whole_or_refused(ended, self.bench.out, self.target, self.form)
