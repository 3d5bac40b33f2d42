"""``passage calibrate``: learn the vessel file's numbers from a log."""

from __future__ import annotations

from pathlib import Path

import click

from passage.cli.options import PATH, emit, map_option, say, screen_layout, screen_options
from passage.cli.outputs import OUTPUT
from passage.cli.outputs import command as passage_command


@passage_command("calibrate")
@click.argument("log", type=PATH)
@click.option("--vessel", type=PATH, required=True, help="Vessel file (TOML) to start from.")
@click.option(
    "--forecast",
    "forecasts",
    type=PATH,
    multiple=True,
    help="Forecast or hindcast of the logged times, where the log has no sea of its own; "
    "give the option again for more files.",
)
@map_option
@click.option("-o", "--output", type=OUTPUT, help="Write the new vessel file here.")
@click.option(
    "--plot", type=OUTPUT, metavar="FILE", help="Draw measured against computed (.svg or .html)."
)
@screen_options
@click.option("--force", is_flag=True, help="Replace existing output files.")
def command(
    log: Path,
    vessel: Path,
    forecasts: tuple[Path, ...],
    name_map: Path | None,
    output: Path | None,
    plot: Path | None,
    wide: bool,
    detail: str | None,
    force: bool,
) -> None:
    """Fit speed-fuel points, wave slope, damping and fin efficiency to LOG.

    What the log cannot determine keeps its old value, and the reason is given. Without -o
    nothing is written. Columns of LOG: docs/log-files.md.

    LOG may be a record of passages (passage review --record): then changes are proposed
    with their evidence, and nothing is written.
    """
    if plot is not None and plot.suffix.lower() not in (".svg", ".html"):
        raise click.UsageError(
            f"--plot {plot}: the picture is written as .svg or .html; end the name so."
        )
    from contextlib import nullcontext

    from passage.errors import LogError, VesselError
    from passage.files import write_text
    from passage.inputs.forecast import open_forecast, read_map
    from passage.inputs.records.log import read_log
    from passage.inputs.records.record_file import is_record
    from passage.inputs.vessel import read_vessel
    from passage.planning.calibrate.calibrate import calibrate
    from passage.report.drawing.calibration import calibration_picture
    from passage.report.text.calibration import calibration_table

    ship = read_vessel(vessel)
    if is_record(log):
        _propose(log, ship, output or plot, screen_layout(wide=wide, detail=detail))
        return
    intervals = read_log(log)
    names = read_map(name_map) if name_map else dict(ship.forecast_names) or None
    opened = open_forecast(list(forecasts), names=names) if forecasts else nullcontext(None)
    with opened as forecast:
        found = calibrate(intervals, ship, forecast)
    for note in found.notes:
        say(note)
    screen = screen_layout(wide=wide, detail=detail)
    emit(calibration_table(found, screen), None, force=False)
    for doubt in found.doubts:
        say(f"{log}: {doubt}")
    if output is not None and found.doubts:
        raise LogError(
            f"{output}: not written: {found.doubts[0]} Correct the log; or, if it is right, "
            "enter the values by hand."
        )
    if output is not None and not any(key.differs for key in found.keys):
        say(f"{output}: every band contains the old value, so the file would not change.")
    if output is not None:
        try:
            text = found.new_text(vessel.read_bytes().decode("utf-8-sig"))
        except ValueError as err:
            raise VesselError(f"{vessel}: {err} Enter the values by hand.") from err
        write_text(output, text, force=force)
        say(f"Wrote {output}")
    if plot is not None:
        write_text(plot, calibration_picture(found, plot.suffix.lower()), force=force)
        say(f"Wrote {plot}")


def _propose(record: Path, ship, output: Path | None, screen) -> None:  # type: ignore[no-untyped-def]
    """Print what a record of passages proposes."""
    from passage.inputs.records.record_file import read_record
    from passage.planning.calibrate.from_record import propose
    from passage.report.text.calibration import proposal_table

    if output is not None:
        raise click.UsageError(
            f"{record} is a record of passages: it proposes and writes no file. Leave out "
            f"{output}, and enter the values by hand."
        )
    emit(proposal_table(propose(read_record(record), ship), screen), None, force=False)
