"""Speed of a season, as ratios measured side by side in one process.

    python tests/benchmarks/bench_season.py [kernel|run] ...

The plain way is what one would write first: ``xarray.interp`` for each variable, then
a direct sum over 40 frequencies and 24 directions for each point, fins centred and
active, with the quadratic damping brought to a fixed point in a few rounds. Times are
CPU time where one thread works and wall time where two do; every figure is the best
of a few, since the machine is shared.
"""

from __future__ import annotations

import resource
import sys
import tempfile
import time
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

import numpy as np

sys.path[:0] = [str(Path(__file__).parent), str(Path(__file__).parents[1])]
from hindcast_maker import LAT, LON, Weather
from numba import njit
from planning_scenario import yacht as sample_yacht

from passage.inputs.forecast.fields import LoadCounts, build_fields
from passage.inputs.forecast.waves import System, WavePlan
from passage.physics.tables.cell_sampling import CellRuns, sample_runs
from passage.physics.tables.sea_rows import rows_from_cells
from passage.planning.season.tables import SeasonTables, fixed_shapes
from passage.units import G_M_S2, knots_to_m_s

SYSTEMS = ("wind", "swell1", "swell2")
#: Length of the hindcast that whole runs are timed on.
YEARS = 8


def best(work, rounds=3, clock=time.process_time):
    least = np.inf
    for _ in range(rounds):
        start = clock()
        work()
        least = min(least, clock() - start)
    return least


def plan():
    made = []
    for name, key in zip(("wind_sea", "swell1", "swell2"), SYSTEMS, strict=True):
        made.append(System(name, f"hs_{key}", f"tp_{key}", "peak", f"dir_{key}", to=False))
    return WavePlan(tuple(made), "hs")


def plain_way(data, lat, lon, when, heading, yacht, speed):
    """Roll rms centred and active at points (n,), the way one would write first."""
    import xarray as xr

    at = {
        "time": xr.DataArray(when, dims="p"),
        "lat": xr.DataArray(lat, dims="p"),
        "lon": xr.DataArray(lon, dims="p"),
    }
    got = {name: data[name].interp(at).values for name in data.data_vars}
    omega = np.linspace(0.25, 2.5, 40)
    theta = np.linspace(0.0, 2.0 * np.pi, 24, endpoint=False)
    dw, dt = omega[1] - omega[0], theta[1] - theta[0]
    density = np.zeros((when.size, omega.size, theta.size))
    for key, gamma in zip(SYSTEMS, (3.3, 5.0, 5.0), strict=True):
        hs, tp = got[f"hs_{key}"][:, None], got[f"tp_{key}"][:, None]
        wp = 2.0 * np.pi / tp
        ratio = omega / wp
        sigma = np.where(ratio <= 1.0, 0.07, 0.09)
        peak = gamma ** np.exp(-0.5 * ((ratio - 1.0) / sigma) ** 2)
        s = omega**-5.0 * np.exp(-1.25 * ratio**-4.0) * peak
        s *= (hs**2 / 16.0) / (s.sum(axis=1, keepdims=True) * dw)
        turn = theta - np.arctan2(got[f"sin_{key}"], got[f"cos_{key}"])[:, None]
        power = 1.0 if key == "wind" else 25.0
        d = np.where(np.cos(turn) > 0.0, np.cos(turn), 0.0) ** 2
        if key != "wind":
            d = np.abs(np.cos(0.5 * turn)) ** (2.0 * power)
        d /= d.sum(axis=1, keepdims=True) * dt
        density += s[:, :, None] * d[:, None, :]
    mu = np.pi + theta - heading[:, None]
    k = omega**2 / G_M_S2
    met = np.abs(omega[:, None] - speed * k[:, None] * np.cos(mu)[:, None, :])
    half = 0.5 * k * yacht.vessel.particulars.beam_waterline_m
    r = np.exp(-0.84 * half) * np.sinc(half / np.pi)
    slope = density * (r * k)[:, None] ** 2 * np.sin(mu)[:, None, :] ** 2 * (dw * dt)
    w0, b = yacht.natural_frequency_rad_s, yacht.vessel.roll.quadratic_damping
    fins = yacht.fins_at(np.array(speed))
    m, flow = float(fins.moment_ratio[0]), float(np.atleast_1d(fins.inflow_time_s)[0])
    answers = []
    for k1, k2 in ((0.0, 0.0), (float(fins.angle_gain[0]), float(fins.rate_gain_s[0]))):
        rate = np.zeros(when.size)
        for _ in range(5):
            damping = 2.0 * float(yacht.hull_damping(speed)) * w0
            damping = damping + np.sqrt(8.0 / np.pi) * b * rate[:, None, None]
            back = m * (k1 + 1j * met * k2) / (1.0 + 0.2j * met)
            im = met * (damping / w0**2 + m * flow)
            size = np.abs(1.0 - (met / w0) ** 2 + back + 1j * im) ** 2
            rate = np.sqrt((slope * met**2 / size).sum(axis=(1, 2)))
        answers.append(np.sqrt((slope / size).sum(axis=(1, 2))))
    return answers


@njit(nogil=True)
def bare_gather(data, corner, weight, index, late, out):
    """Eight corners times weights, places and fractions known: nothing else."""
    for k in range(corner.shape[0]):
        a, b, c, d = corner[k, 0], corner[k, 1], corner[k, 2], corner[k, 3]
        wa, wb, wc, wd = weight[k, 0], weight[k, 1], weight[k, 2], weight[k, 3]
        for m in range(index.size):
            i = index[m]
            f = late[m]
            s = np.float32(1.0) - f
            target = out[m, k]
            a0, a1, b0, b1 = data[a, i], data[a, i + 1], data[b, i], data[b, i + 1]
            c0, c1, d0, d1 = data[c, i], data[c, i + 1], data[d, i], data[d, i + 1]
            for q in range(target.size):
                target[q] = (
                    s * (wa * a0[q] + wb * b0[q] + wc * c0[q] + wd * d0[q])
                    + f * (wa * a1[q] + wb * b1[q] + wc * c1[q] + wd * d1[q])
                )  # fmt: skip


def scenario(hours=4 * 8766, step_h=3.0, places=80, seed=3):
    """Cells along a made track, the yacht and her tables."""
    weather = Weather()
    hour = np.arange(0.0, hours, step_h)
    lat = np.linspace(48.3, 43.6, places)
    lon = np.linspace(-5.75, -8.7, places)
    j, k = ((lat - LAT[0]) / 0.5).astype(int), ((lon - LON[0]) / 0.5).astype(int)
    row = np.stack([j, j, j + 1, j + 1], 1)
    column = np.stack([k, k + 1, k, k + 1], 1)
    fj, fk = (lat - LAT[j]) / 0.5, (lon - LON[k]) / 0.5
    weight = np.stack([(1 - fj) * (1 - fk), (1 - fj) * fk, fj * (1 - fk), fj * fk], 1)
    keys = row * LON.size + column
    cells = np.unique(keys)
    wanted = plan()
    data = np.empty((cells.size, hour.size, wanted.n_fields), np.float32)
    for at in range(0, hour.size, 488):
        part = slice(at, min(at + 488, hour.size))
        raw = weather.fields(hour[part])
        raw = {n: (np.deg2rad(v) if n.startswith("dir") else v) for n, v in raw.items()}
        fields = build_fields(
            wanted, {n: v.astype(np.float32) for n, v in raw.items()}, LoadCounts()
        )
        flat = fields.reshape(fields.shape[0], -1, wanted.n_fields)
        data[:, part] = np.moveaxis(flat[:, cells], 0, 1)
    runs = CellRuns(
        data, hour * 3600.0, np.zeros(hour.size - 1, bool),
        np.searchsorted(cells, keys).astype(np.int32), weight.astype(np.float32),
        np.ones(places, bool), 0.0, float(hour[-1]) * 3600.0,
    )  # fmt: skip
    course = np.full(places, np.arctan2(-2.95 * np.cos(np.deg2rad(46.0)), -4.7))
    yacht = sample_yacht()
    speed = float(knots_to_m_s(12.0))
    yacht.pin(speed)
    shapes, systems = fixed_shapes(wanted)
    return weather, lat, lon, course, runs, systems, SeasonTables(yacht, shapes).at(speed), yacht


def kernel_points(runs, systems, made, course, departures):
    """Sampling, responses and roll, centred and active, of departures x places."""
    n = course.size
    t = departures[:, None] + 1200.0 * (np.arange(n) + 0.5)
    north = np.broadcast_to(np.cos(course), t.shape)
    east = np.broadcast_to(np.sin(course), t.shape)
    where = (made.responses, np.arange(n), t, north, east)
    rows, _, _ = rows_from_cells(runs, systems, *where)
    flat = rows.reshape(-1, rows.shape[-1])
    use, offset = np.ones(flat.shape[0], np.int8), np.zeros((flat.shape[0], 1))
    centred = made.roll.centred(flat)
    active, _ = made.roll.working(flat, offset, use, centred, made.responses.derivative_column)
    return centred, active


def kernel():
    weather, lat, lon, course, runs, systems, made, yacht = scenario()
    rng = np.random.default_rng(0)
    last = runs.time_s[-1] - 2e5

    def departures(points):
        return np.sort(rng.uniform(0.0, last, max(points // course.size, 1)))

    def run(leaving, size=128):
        for at in range(0, leaving.size, size):
            kernel_points(runs, systems, made, course, leaving[at : at + size])

    run(departures(20_000))
    print("kernel: sampling, response, roll centred and active")
    flat = {}
    for points in (100_000, 1_000_000, 10_000_000):
        leaving = departures(points)
        flat[points] = best(lambda x=leaving: run(x), 5 if points < 5e6 else 3) / (
            leaving.size * course.size
        )
        print(f"  {points:>10} points: {1e9 * flat[points]:7.0f} ns a point")
    spread = max(flat.values()) / min(flat.values())
    print(f"  dearest over cheapest: {spread:.3f}")

    import xarray as xr

    hours = np.arange(0.0, 30 * 24.0, 3.0)
    fields = weather.fields(hours)
    variables = {}
    for key in SYSTEMS:
        variables[f"hs_{key}"], variables[f"tp_{key}"] = fields[f"hs_{key}"], fields[f"tp_{key}"]
        angle = np.deg2rad(fields[f"dir_{key}"])
        variables[f"sin_{key}"], variables[f"cos_{key}"] = np.sin(angle), np.cos(angle)
    data = xr.Dataset(
        {n: (("time", "lat", "lon"), v) for n, v in variables.items()},
        {"time": hours, "lat": LAT, "lon": LON},
    )
    count = 2000
    when = rng.uniform(0, 700, count)
    pick = rng.integers(0, lat.size, count)
    args = (data, lat[pick], lon[pick], when, course[pick], yacht, made.speed_m_s)
    ratios = []
    for _ in range(3):
        leaving = departures(1_000_000)
        fast = best(lambda x=leaving: run(x), 2) / (leaving.size * course.size)
        plain = best(lambda: plain_way(*args), 2) / count
        ratios.append(plain / fast)
        print(f"  plain way {1e9 * plain:.0f} ns, kernel {1e9 * fast:.0f} ns: {plain / fast:.0f}")
    print(f"plain over kernel, one thread: {np.median(ratios):.0f} (bar 400)")

    halves = []
    for _ in range(3):
        leaving = departures(2_000_000)
        half = leaving.size // 2
        with ThreadPoolExecutor(2) as pool:
            two = best(
                lambda x=leaving, h=half: list(pool.map(run, (x[:h], x[h:]))),
                2, time.perf_counter,
            ) / (leaving.size * course.size)  # fmt: skip
        one = best(lambda x=leaving: run(x), 2, time.perf_counter) / (leaving.size * course.size)
        plain = best(lambda: plain_way(*args), 2, time.perf_counter) / count
        halves.append((plain / two, one / two))
        print(f"  two threads {1e9 * two:.0f} ns, one {1e9 * one:.0f} ns (wall)")
    print(
        f"plain over kernel, two threads: {np.median([h[0] for h in halves]):.0f} (bar 650); "
        f"two threads over one: {np.median([h[1] for h in halves]):.2f}"
    )

    leaving = departures(1_000_000)
    t = leaving[:, None] + 1200.0 * (np.arange(course.size) + 0.5)
    out = np.empty((*t.shape, runs.data.shape[2]), np.float32)
    position = t[:, 0] / runs.step_s
    index = position.astype(np.int64)
    late = (position - index).astype(np.float32)
    bare_gather(runs.data, runs.corner, runs.weight, index, late, out)
    sample_runs(runs, t)
    ratios = []
    for _ in range(5):
        bare = best(lambda: bare_gather(runs.data, runs.corner, runs.weight, index, late, out), 2)
        ours = best(lambda: sample_runs(runs, t), 2)
        ratios.append((ours / bare, 1e9 * ours / t.size, 1e9 * bare / t.size))
    ratio = sorted(ratios)[2]
    print(f"sampling {ratio[1]:.0f} ns, bare gather {ratio[2]:.0f} ns: {ratio[0]:.2f} (bar 2)")


def run():
    from hindcast_maker import write_years

    from passage.planning.season import work as season_work
    from passage.planning.season.season import run_season
    from passage.planning.season.setup import SeasonFiles, SeasonOptions, setup

    samples = Path(__file__).parents[2] / "sample_forecasts"
    read_s = [0.0]
    load = season_work._load

    def timed(*args):
        start = time.perf_counter()
        loaded = load(*args)
        read_s[0] += time.perf_counter() - start
        return loaded

    # Seen in this process only, so by the runs with one process.
    season_work._load = timed
    with tempfile.TemporaryDirectory() as folder:
        start = time.perf_counter()
        paths = write_years(Path(folder) / "data", 2013, YEARS)
        print(f"{YEARS} years of data made in {time.perf_counter() - start:.0f} s")
        files = SeasonFiles(
            (str(samples / "direct.csv"), str(samples / "western.csv")),
            str(samples / "brambling.toml"),
            tuple(map(str, paths)),
        )
        epoch = np.datetime64("2013-01-01").astype("datetime64[s]").astype(float)

        def wall(every_h, processes, number):
            """Wall time of a whole run, its points, and its time of reading (one process)."""
            last = epoch + (YEARS * 365.0 - 10.0) * 86400.0
            options = SeasonOptions(epoch, last, every_h, speeds_kn=(11.0, 12.0, 13.0))
            read_s[0] = 0.0
            start = time.perf_counter()
            run_season(files, options, Path(folder) / f"run{number}", processes=processes)
            took = time.perf_counter() - start
            points = setup(files, options).points
            reading = f", reading {read_s[0]:.1f} s" if processes == 1 else ""
            print(
                f"every {every_h} h, {processes} process(es): {took:.1f} s for "
                f"{points / 1e6:.1f} million points, {1e9 * took / points:.0f} ns a point{reading}"
            )
            return took, points, read_s[0]

        wall(24.0, 1, "warm")
        few, many = 2.0, 0.5
        ratios, marginal, marginal_one = [], [], []
        for round_ in range(2):
            one = wall(many, 1, f"a{round_}")
            two = wall(many, 2, f"b{round_}")
            short_two = wall(few, 2, f"c{round_}")
            short_one = wall(few, 1, f"d{round_}")
            ratios.append((one[0] / two[0], short_one[0] / short_two[0]))
            more = one[1] - short_one[1]
            marginal.append((two[0] - short_two[0]) / more)
            marginal_one.append((one[0] - short_one[0] - one[2] + short_one[2]) / more)
            # More departures over the same years read no more.
            reading = one[2]
        print(
            f"two processes over one: {max(r[0] for r in ratios):.2f} for {one[1] / 1e6:.0f} "
            f"million points (bar 1.7), {max(r[1] for r in ratios):.2f} for "
            f"{short_one[1] / 1e6:.0f} million"
        )
        usage = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024.0
        child = resource.getrusage(resource.RUSAGE_CHILDREN).ru_maxrss / 1024.0
        print(f"largest memory: {usage:.0f} MB here, {child:.0f} MB in a worker (bar 1500)")
        print(
            f"each further point: {1e9 * min(marginal_one):.0f} ns on one process, "
            f"{1e9 * min(marginal):.0f} ns on two"
        )
        print(
            f"0.5e9 points on two processes: {0.5e9 * min(marginal) / 60:.1f} minutes "
            f"(bar 5); reading 40 years of these files: {40 / YEARS * reading:.0f} s on top"
        )


if __name__ == "__main__":
    chosen = sys.argv[1:] or ["kernel", "run"]
    for name in chosen:
        globals()[name]()
