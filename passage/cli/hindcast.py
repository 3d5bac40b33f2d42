"""``passage hindcast``: rewrite past data once, for reading years at a place."""

from __future__ import annotations

from pathlib import Path

import click

from passage.cli.options import LATITUDE, LONGITUDE, PATH, Number, say
from passage.cli.outputs import OUTPUT
from passage.cli.outputs import command as passage_command
from passage.cli.progress import Progress


@passage_command("hindcast")
@click.argument("files", type=PATH, nargs=-1, required=True, metavar="FILE...")
@click.option(
    "-o",
    "--output",
    type=OUTPUT,
    required=True,
    help="NetCDF file (.nc) or Zarr store (.zarr) to write.",
)
@click.option(
    "--area",
    type=(LATITUDE, LATITUDE, LONGITUDE, LONGITUDE),
    metavar="S N W E",
    help="Keep only this box, in degrees; west above east crosses 180.",
)
@click.option("--map", "name_map", type=PATH, help="TOML file that explains unknown names.")
@click.option(
    "--memory",
    "memory_mb",
    type=Number(16.0, 100_000.0, "MB"),
    default=512.0,
    show_default=True,
    metavar="MB",
    help="Memory to rewrite one variable with; more makes longer chunks.",
)
@click.option("--force", is_flag=True, help="Replace an existing output.")
def command(
    files: tuple[Path, ...],
    output: Path,
    area: tuple[float, float, float, float] | None,
    name_map: Path | None,
    memory_mb: float,
    force: bool,
) -> None:
    """Rewrite hindcast FILEs so that the hours of a place lie together.

    Done once, it spares every `passage season` most of its reading. Values stay as they are.
    """
    if area is not None and not area[0] < area[1]:
        raise click.UsageError(
            f"--area {' '.join(f'{edge:g}' for edge in area)}: the order is south, north, west, "
            "east, and south must be below north."
        )
    from passage.inputs.forecast import Area, read_map
    from passage.inputs.hindcast.prepare import prepare_hindcast

    with Progress("variables") as progress:
        prepare_hindcast(
            files,
            output,
            names=None if name_map is None else read_map(name_map),
            area=None if area is None else Area(*area),
            memory_mb=memory_mb,
            force=force,
            progress=progress,
        )
    say(f"Wrote {output}")
