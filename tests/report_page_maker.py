"""A page with every kind of block, from invented numbers, for the tests."""

from __future__ import annotations

import numpy as np

from passage.report.drawing.blocks import (
    Column,
    Facts,
    Figure,
    Figures,
    Note,
    Notes,
    Section,
    Table,
)
from passage.report.drawing.charts_choice import front_chart, non_dominated, window_chart
from passage.report.drawing.charts_heel import break_even_chart, heel_strip, policy_chart
from passage.report.drawing.charts_season import month_chart, share_chart
from passage.report.drawing.charts_strip import (
    fin_strip,
    fuel_strip,
    gap_spans,
    leg_spans,
    period_strip,
    roll_strip,
    sea_strip,
)
from passage.report.drawing.map import MapRoute, SeaFrame, passage_map
from passage.report.pages.page import render_page

HOSTILE = "<script>alert('x')</script>&\"'<img src=http://evil.example/x.png>"
START_S = 1773468000.0  # 2026-03-14T06:00Z
N = 60


def sections(name: str = "western") -> list[Section]:
    """Sections with one block of each kind; ``name`` is wherever a user's word can."""
    rng = np.random.default_rng(7)
    times = START_S + 1200.0 * np.arange(N)
    height = 2.0 + np.sin(np.arange(N) / 9.0)
    height[20:24] = np.nan
    starts, ends = times[[0, 25, 40]], times[[25, 40, 59]]
    legs = leg_spans(starts, ends, [False, True, False]) + gap_spans(times, np.isfinite(height))
    names = [f"{name} leg {i}" for i in range(3)]
    fuel = rng.uniform(4000.0, 7000.0, 90)
    rough = 9.0 - fuel / 1000.0 + rng.uniform(0.0, 3.0, 90)
    route = rng.integers(0, 3, 90)
    front = non_dominated(fuel, rough)
    departures = START_S + 3600.0 * np.arange(24)
    grid = 5000.0 + 50.0 * np.arange(24) + 300.0 * np.arange(3)[:, None]
    comfort = 3.0 + np.sin(np.arange(24) / 4.0) + 0.4 * np.arange(3)[:, None]
    comfort[2, 20:] = np.nan
    grid[2, 20:] = np.nan
    lat, lon = np.arange(42.0, 51.1, 0.5), np.arange(-12.0, 0.1, 0.5)
    field = 1.0 + 5.0 * np.abs(np.sin(lat[:, None] / 3.0) * np.cos(lon / 4.0))
    field[lat > 48.0] = np.where(lon > -4.0, np.nan, field[lat > 48.0])
    frames = [
        SeaFrame(
            START_S + 21600.0 * i,
            lat,
            lon,
            field,
            np.full(field.shape, 4.0 * i),
            np.full(field.shape, -7.0),
            [(46.0 - i, -7.0), (np.nan, np.nan)],
        )
        for i in range(3)
    ]
    square = np.array([(-4.0, 48.0), (2.0, 48.0), (2.0, 52.0), (-4.0, 52.0), (-4.0, 48.0)])
    routes = [
        MapRoute("direct", [48.3, 45.5, 43.55], [-5.75, -7.25, -8.7], 0, ["A", "B", "C"], True),
        MapRoute(name, [48.3, 45.3, 43.55], [-5.75, -9.3, -8.7], 1, [name, "D", "C"]),
    ]
    months = np.sort(rng.gamma(3.0, 1.5, (3, 12, 5)), axis=-1)
    strips = [
        sea_strip(times, height, {name: 0.5 * height}, wind_kn=10.0 + height, spans=legs),
        period_strip(times, np.where(np.arange(N) == 30, 44.0, 7.0 + height), 6.8, spans=legs),
        roll_strip(
            times, 2.0 * height, height, 2.5, low_deg=0.8 * height, high_deg=1.2 * height,
            spans=legs,
        ),
        fin_strip(times, 4.0 * height, height, 25.0, offset_deg=np.full(N, 3.0), spans=legs),
        fuel_strip(
            starts, ends, {"still water": [900.0, 10.0, 600.0], "wind": [-20.0, 0.0, 30.0]},
            names, spans=legs,
        ),
    ]  # fmt: skip
    chosen = int(np.flatnonzero(front)[0])
    return [
        Section(
            f"The answer for {name}",
            f"Best for {name}.",
            [
                Figures(
                    [
                        Figure("Route", name, "", name),
                        Figure("Worst roll", "4.3", "deg", "over", "limit"),
                    ],
                    f"Take {name}.",
                ),
                Notes(
                    [
                        Note(f"{name} is rough", "limit", name),
                        Note("near resonance", "caution"),
                        name,
                    ],
                    name,
                ),
            ],
        ),
        Section("Map", "", [passage_map(routes, frames, [square])]),
        Section("Along the way", "", strips),
        Section(
            "Choice",
            "",
            [
                front_chart(
                    fuel, rough, route.tolist(), ["direct", name, "eastern"], front,
                    labels=[f"{name} {i}" for i in range(90)], allowed=rough < 4.0,
                    chosen=chosen, limit=4.0,
                ),
                window_chart(
                    departures, grid, comfort, ["direct", name, "eastern"], comfort < 3.8,
                    limit=3.8, chosen_s=float(departures[5]),
                    nights=[(START_S - 7200.0, START_S + 3600.0)],
                ),
            ],
        ),
        Section(
            "Legs",
            "",
            [
                Table(
                    [
                        Column("leg", meaning=name),
                        Column("distance", "nm", 1),
                        Column("fuel", "l", 0),
                    ],
                    [[names[0], 311.25, 5210.4], [names[1], None, float("nan")]],
                    caption=f"Legs of {name}",
                    marked=[0],
                    sums=["passage", 311.25, 5210.4],
                )
            ],
        ),
        Section(
            "Heel",
            "",
            [
                heel_strip(
                    starts, ends, [1.5, 2.0, -0.4], [0.5, 0.4, -0.1], names, limit_deg=1.0,
                    offset_deg=[4.0, 5.0, 1.0], offset_left_deg=[20.0, 19.0, 23.0], spans=legs,
                ),
                policy_chart(
                    ["never", name, "mixture"], {"fins": [0.0, 80.0, 20.0], name: [0.0, 0.0, 9.0]},
                    advised=2, feasible=[True, False, True],
                ),
                break_even_chart(
                    [0.5, 1.0, 2.0], [9.0, 12.0], [[900.0, 300.0, 90.0], [np.inf, 500.0, 120.0]],
                    here=(1.5, 311.0), top_nm=800.0,
                ),
            ],
        ),
        Section(
            "Season",
            "",
            [
                month_chart(
                    "Roll by month", "Worst roll, degrees", ["direct", name, "eastern"], months,
                    column=Column("roll", "deg", 1), counts=np.full((3, 12), 1240.0),
                ),
                share_chart("Within limits", "Share, %", ["direct", name, "eastern"],
                            np.clip(100.0 - 9.0 * months[:, :, 2], 0.0, 100.0)),
            ],
        ),
        Section("Sources", "", [Facts([("file", name), (name, 3), ("none", None)], name)]),
    ]  # fmt: skip


def page(name: str = "western") -> str:
    """The page of :func:`sections`."""
    return render_page(
        f"A to C by {name}",
        sections(name),
        subtitle=f"invented, {name}",
        facts=[("Vessel", name)],
        footer=f"The master decides, {name}.",
    )
