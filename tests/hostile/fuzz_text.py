"""Mutants of the text files: vessel, routes in every format, logs, decay records, maps."""

from __future__ import annotations

import copy
import io
import random
import tomllib
import zipfile
from pathlib import Path
from typing import Any, ClassVar

import fuzz_base
import fuzz_mutants
import numpy as np

VESSEL_TEXT = (fuzz_base.SAMPLES / "brambling.toml").read_text(encoding="utf-8")


class VesselText(fuzz_base.Kind):
    """The sample vessel file, its text or its values spoilt; a share of what is read is planned."""

    #: What a value is replaced by, as it would be in the file.
    weird: ClassVar[tuple[str, ...]] = (
        "nan", "-nan", "inf", "-inf", "true", "false", "0", "-0.0", "-1", "1e308", "-1e308",
        "1e-308", "5e-324", "99999999999999999999999999", "9223372036854775808",
        "0x7fffffffffffffff", "1e400", '""', '"x"', '"12.5"', "[]", "[1]", "[nan, 1]",
        "{}", "{a = 1}", "2026-03-14",
        "2026-03-14T06:00:00Z", "06:00:00", "[[[[]]]]", '"\\u0000"', '"\\u202e"', "1_000", "12,5",
        '"' + "y" * 3000 + '"',
    )  # fmt: skip
    #: Factors that keep a number lawful, or nearly.
    factors: ClassVar[tuple[float, ...]] = (0.01, 0.1, 0.3, 0.5, 0.9, 1.1, 2.0, 3.0, 10.0, 1000.0)

    def __init__(self, folder: Path) -> None:
        super().__init__(folder)
        self.planned = 0

    def warm(self) -> None:
        from passage.inputs.vessel import vessel_from_text

        self._plan(self.seed, vessel_from_text(VESSEL_TEXT))

    def make(self, chance: random.Random, folder: Path) -> tuple[Path, str]:
        path = folder / "mutant.toml"
        kind = chance.randrange(5)
        lines = VESSEL_TEXT.splitlines(keepends=True)
        if kind == 0:
            path.write_bytes(fuzz_mutants.spoil_bytes(VESSEL_TEXT.encode(), chance))
            return path, "bytes"
        if kind == 1:
            path.write_bytes(fuzz_mutants.recoded(VESSEL_TEXT.encode(), chance))
            return path, "saved by another program"
        label = []
        for _ in range(chance.randint(1, 3)):
            at = chance.choice(
                [i for i, line in enumerate(lines) if " = " in line and line[0] != "#"]
            )
            key = lines[at].split(" = ")[0]
            if kind == 2:
                lines[at] = f"{key} = {chance.choice(self.weird)}\n"
            elif kind == 3:
                lines[at] = self._scaled(lines[at], chance)
            else:
                twin = chance.choice(lines)
                lines[at] = chance.choice(("", lines[at] * 2, f"a{lines[at]}", lines[at] + twin))
            label.append(lines[at][:60].strip())
        path.write_text("".join(lines), encoding="utf-8")
        return path, "; ".join(label)

    def _scaled(self, line: str, chance: random.Random) -> str:
        """The line with its number or numbers a little or much wrong."""
        key, _, text = line.partition(" = ")
        factor = chance.choice(self.factors)
        try:
            value = tomllib.loads(f"x = {text}")["x"]
        except tomllib.TOMLDecodeError:
            return line
        if isinstance(value, bool) or not isinstance(value, (int, float, list)):
            return line
        if isinstance(value, list):
            if not all(isinstance(v, (int, float)) for v in value):
                return line
            return f"{key} = {[float(v) * factor for v in value]}\n"
        return f"{key} = {float(value) * factor!r}\n"

    def judge(self, path: Path) -> str:
        from passage.inputs.vessel import read_vessel

        vessel = read_vessel(path)
        self.planned += 1
        if self.planned % 12 == 1:
            return self._plan(path, vessel)
        return "read"

    def _plan(self, path: Path, vessel: Any) -> str:
        """A plan with what was accepted: no accepted vessel may break the physics."""
        from planning_scenario import UniformForecast

        from passage.inputs.route import read_route
        from passage.planning.plan.plan import plan
        from passage.planning.voyage.prepare import PlanOptions, prepare
        from passage.report.files.plan_json import plan_json
        from passage.report.text.plan import plan_table

        route = self.seed / "mutant_route.csv"
        route.write_text("name,lat,lon\nmutant,48.3,-7.5\nB,48.9,-7.0\n")
        speed = float(np.median(vessel.propulsion.speed_kn))
        options = PlanOptions(departure_s=fuzz_base.DEPARTURE_S, minutes=120.0, speed_kn=speed)
        made = plan(
            prepare(vessel, read_route(route), options),
            UniformForecast(wind=(6.0, 3.0), current=(0.3, 0.1)), options,
        )  # fmt: skip
        assert plan_table(made)
        fuzz_base.strict_json(plan_json(made))
        return "planned"


class RouteFile(fuzz_base.Kind):
    """Routes in CSV, GPX, GeoJSON, route exchange and its zip."""

    endings = ("csv", "gpx", "geojson", "rtz", "rtzp", "txt")

    def __init__(self, folder: Path) -> None:
        super().__init__(folder)
        self.seeds = self._seeds()

    def _seeds(self) -> dict[str, bytes]:
        from passage.inputs import route as r

        made = r.build_route(
            "x",
            "Invented",
            [
                r.Waypoint(name="A", lat_deg=48.3, lon_deg=-4.6),
                r.Waypoint(name="B é", lat_deg=45.0, lon_deg=-8.0, kind="great circle",
                           speed_kn=11.0, stay_h=3.0),
                r.Waypoint(name="C", lat_deg=43.6, lon_deg=-8.3, stay_h=30.0),
            ],
        )  # fmt: skip
        times = [1.7e9 + 36_000.0 * k for k in range(len(made.legs) + 1)]
        made = made.with_schedule(times[:-1], times[1:])
        writers = {"csv": r.write_csv, "gpx": r.write_gpx, "geojson": r.write_geojson,
                   "rtz": r.write_exchange}  # fmt: skip
        seeds = {"txt": b"A  48-18.0N  004-36.0W\nB  45-00.0N  008-00.0W\nC  43-36.0N  008-18.0W\n"}
        for ending, write in writers.items():
            path = self.seed / f"a.{ending}"
            path.unlink(missing_ok=True)
            write(made, path)
            seeds[ending] = path.read_bytes()
        return seeds

    def make(self, chance: random.Random, folder: Path) -> tuple[Path, str]:
        ending = chance.choice(self.endings)
        path = folder / f"mutant.{ending}"
        if ending == "rtzp":
            path.write_bytes(self._zipped(chance))
        elif chance.random() < 0.1:
            path.write_bytes(fuzz_mutants.recoded(self.seeds[ending], chance))
        else:
            path.write_bytes(fuzz_mutants.spoil_bytes(self.seeds[ending], chance))
        return path, ending

    def _zipped(self, chance: random.Random) -> bytes:
        names = ["a.rtz", "A.RTZ", "../a.rtz", "/a.rtz", "c:/a.rtz", "x/../../a.rtz", "",
                 "a\x00.rtz", "é.rtz", "a.rtz/", "a.txt"]  # fmt: skip
        inside = self.seeds["rtz"]
        if chance.random() < 0.3:
            inside = fuzz_mutants.spoil_bytes(inside, chance)
        out = io.BytesIO()
        with zipfile.ZipFile(
            out, "w", chance.choice((zipfile.ZIP_STORED, zipfile.ZIP_DEFLATED))
        ) as z:
            taken = {"a.rtz"} if chance.random() < 0.6 else set(chance.choices(names, k=2))
            for name in sorted(taken):
                z.writestr(zipfile.ZipInfo(name), inside)
        data = out.getvalue()
        return fuzz_mutants.spoil_binary(data, chance) if chance.random() < 0.6 else data

    def judge(self, path: Path) -> str:
        from passage.inputs.coast.coastline import legs_over_land
        from passage.inputs.route import make_track, read_route
        from passage.planning.voyage.prepare import corridor

        route = read_route(path)
        assert route.legs
        for leg in route.legs:
            assert -90.0 < leg.lat_to_deg < 90.0
            assert -180.0 <= leg.lon_to_deg < 180.0
            assert 0.0 <= leg.distance_m < 4.1e7
            assert leg.speed_kn is None or 0.0 < leg.speed_kn <= 80.0
            assert 0.0 <= leg.stay_h <= 8760.0
        track = make_track(route, 10.0, minutes=600.0)
        assert len(track) > 0
        area = corridor([track])
        assert area.south_deg <= area.north_deg
        legs_over_land(route)
        return "read"


LOG_HEADER = (
    "time,lat,lon,heading_deg,speed_through_water_kn,fuel_l_per_h,roll_rms_deg,fins,"
    "significant_height_m,peak_period_s,wave_from_deg,sea,wind_speed_kn,wind_from_deg"
)


def log_text() -> str:
    """An invented log of two days."""
    rows = [LOG_HEADER]
    for i in range(24):
        rows.append(
            f"2026-03-0{2 + i // 12}T{i % 12 + 6:02d}:30Z,{44.2 - 0.1 * i:.2f},"
            f"{-6.1 - 0.1 * i:.2f},{(215 + 15 * i) % 360},{(8.0, 11.0, 13.0)[i % 3]},"
            f"{(75, 160, 260)[i % 3] + i},{2.0 + 0.2 * (i % 5)},"
            f"{('active', 'centred')[i % 2]},{1.0 + 0.1 * (i % 7):.1f},"
            f"{6.0 + 0.5 * (i % 6)},{(290 + 10 * i) % 360},"
            f"{('', 'swell', 'wind sea')[i % 3]},12,270"
        )
    return "\n".join(rows) + "\n"


class LogFile(fuzz_base.Kind):
    """Passage logs; a share of what is read is also fitted."""

    def __init__(self, folder: Path) -> None:
        super().__init__(folder)
        from passage.inputs.vessel import vessel_from_text

        self.vessel = vessel_from_text(VESSEL_TEXT)
        self.fitted = 0

    def warm(self) -> None:
        from passage.inputs.records.log import parse_log
        from passage.planning.calibrate.calibrate import calibrate

        calibrate(parse_log(log_text(), file="log"), self.vessel, None)

    def make(self, chance: random.Random, folder: Path) -> tuple[Path, str]:
        path = folder / "mutant.csv"
        spoil = fuzz_mutants.recoded if chance.random() < 0.1 else fuzz_mutants.spoil_bytes
        path.write_bytes(spoil(log_text().encode(), chance))
        return path, spoil.__name__

    def judge(self, path: Path) -> str:
        from passage.inputs.records.log import read_log
        from passage.planning.calibrate.calibrate import calibrate

        log = read_log(path)
        assert np.all(np.isfinite(log.time_s))
        self.fitted += 1
        if self.fitted % 30 == 1:
            calibrate(log, self.vessel, None)
            return "fitted"
        return "read"


class DecayFile(fuzz_base.Kind):
    """Roll-decay records, always fitted, through the command line's own function."""

    def make(self, chance: random.Random, folder: Path) -> tuple[Path, str]:
        n = np.arange(14)
        size = 12.0 * np.exp(-0.12 * n)
        sign = (-1.0) ** n if chance.random() < 0.5 else 1.0
        rows = "".join(f"{3.9 * k:.2f},{v:.3f}\n" for k, v in zip(n, sign * size, strict=True))
        path = folder / "mutant.csv"
        spoil = fuzz_mutants.recoded if chance.random() < 0.1 else fuzz_mutants.spoil_bytes
        path.write_bytes(spoil(f"# decay\ntime_s,roll_deg\n{rows}".encode(), chance))
        return path, spoil.__name__

    def judge(self, path: Path) -> str:
        from click.testing import CliRunner

        from passage.cli.decay import command

        result = CliRunner().invoke(command, [str(path), "--format", "json"])
        if result.exception is not None and not isinstance(result.exception, SystemExit):
            raise result.exception
        fuzz_base.strict_json(result.stdout)
        return "fitted"


class MapFile(fuzz_base.Kind):
    """The user's map of variable names, and the same table in a vessel file."""

    exit_code = 4

    def make(self, chance: random.Random, folder: Path) -> tuple[Path, str]:
        text = '[names]\nHsig2 = "total_height, m"\nx = "swell_1_to_direction, degree"\n'
        path = folder / "mutant.toml"
        spoil = fuzz_mutants.recoded if chance.random() < 0.1 else fuzz_mutants.spoil_bytes
        path.write_bytes(spoil(text.encode(), chance))
        return path, spoil.__name__

    def judge(self, path: Path) -> str:
        from passage.inputs.forecast import read_map

        names = read_map(path)
        assert all(isinstance(v, str) for v in copy.copy(names).values())
        return "read"
