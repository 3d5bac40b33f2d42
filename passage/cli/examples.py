"""Examples at the end of each ``--help``; no imports."""

from __future__ import annotations

#: Command -> lines of examples, each a command that could be typed.
EXAMPLES: dict[str, tuple[str, ...]] = {
    "plan": (
        "passage plan route.csv --vessel mine.toml --forecast sea.nc --departure 2026-03-14T06:00Z",
        "passage plan route.csv --departure 2026-03-14T06:00Z --format sheet -o watch.html",
    ),
    "compare": (
        "passage compare west.csv east.csv --from 2026-03-14T06:00Z --to 2026-03-15T06:00Z",
        "passage compare route.csv --departure 2026-03-14T06:00Z --speed 10 --speed 12 --by-leg",
    ),
    "suggest": (
        "passage suggest route.csv --departure 2026-03-14T06:00Z --speed 12 --for comfort",
    ),
    "heel": (
        "passage heel route.csv --departure 2026-03-14T06:00Z",
        "passage heel route.csv --departure 2026-03-14T06:00Z --no-transfer 2 --heel-worth 5",
    ),
    "season": (
        "passage season west.csv east.csv --vessel mine.toml --forecast years.nc "
        "--from 2004-01-01 --to 2023-12-31 -o season",
    ),
    "hindcast": ("passage hindcast year1.nc year2.nc -o years.zarr",),
    "defaults": ("passage defaults",),
    "check": (
        "passage check forecasts --route route.csv --departure 2026-03-14T06:00Z",
        "passage check --vessel mine.toml",
    ),
    "particulars": (
        "passage particulars -o mine.toml",
        "passage particulars --no-input -o template.toml",
    ),
    "decay": ("passage decay record.csv --vessel mine.toml -o new.toml",),
    "review": (
        "passage review log.csv --plan plan.json",
        "passage review log.csv --plan plan.json --sea analysis.nc --record mine.csv",
    ),
    "record": ("passage record mine.csv --vessel mine.toml",),
    "calibrate": ("passage calibrate log.csv --vessel mine.toml --forecast sea.nc -o new.toml",),
}
