"""``passage decay``: roll damping and period from a roll-decay record."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from passage.cli.options import PATH, Number, say, screen_layout, screen_options, show
from passage.cli.outputs import OUTPUT
from passage.cli.outputs import command as passage_command
from passage.cli.word import Word

#: Standard deviations printed after +-.
TWO = 2.0

if TYPE_CHECKING:
    from passage.inputs.records.decay import DecayFit
    from passage.inputs.vessel import Vessel

#: Smallest damping ratio written into a vessel file.
LEAST_RATIO = 1e-4
#: A period further off the vessel file's than this comes from another record or ship;
#: loading alone does not change it so much (common practice, no source).
MOST_PERIOD_RATIO = 1.6


@passage_command("decay", context_settings={"help_option_names": ["-h", "--help"]})
@click.argument("record", type=PATH)
@click.option("--vessel", type=PATH, help="Vessel file to compare with.")
@click.option(
    "--speed",
    "speed_kn",
    type=Number(0.0, 60.0, "kn"),
    default=0.0,
    show_default=True,
    metavar="KN",
    help="Speed through the water during the decay.",
)
@click.option("--same-side", is_flag=True, help="The peaks are all on one side.")
@click.option(
    "-o",
    "--output",
    type=OUTPUT,
    help="New vessel file: the one of --vessel with the fitted values, comments kept.",
)
@click.option("--force", is_flag=True, help="Replace the file if it exists.")
@click.option(
    "--format",
    "form",
    type=Word(["table", "json"]),
    default="table",
    show_default=True,
    help="How to print the result.",
)
@screen_options
def command(
    record: Path,
    vessel: Path | None,
    speed_kn: float,
    same_side: bool,
    output: Path | None,
    force: bool,
    form: str,
    wide: bool,
    detail: str | None,
) -> None:
    """Fit roll damping and period to a roll-decay record.

    RECORD is a CSV with columns time_s and roll_deg: the time and size of every peak
    after she was set rolling in calm water, from one side to the other, fins stowed
    (centred is enough at rest). With signs (+ to starboard), a list is taken out.
    """
    from passage.inputs.records.decay import fit_decay, read_decay_record
    from passage.inputs.vessel import read_vessel

    if output is not None and vessel is None:
        raise click.UsageError("-o needs --vessel: the new file is a copy of that one.")
    ship = read_vessel(vessel) if vessel is not None else None
    fit = fit_decay(read_decay_record(record, same_side=same_side))
    notes = [*fit.notes, *_compare(fit, ship)]
    changes, more = _changes(fit, ship, speed_kn)
    notes += more
    if form == "json":
        import json

        show(json.dumps(_as_json(fit, speed_kn, notes, changes), indent=2, allow_nan=False))
    else:
        from passage.report.text.layout import hung

        screen = screen_layout(wide=wide, detail=detail)
        show(hung(_table(fit, speed_kn, ship, changes), screen))
        for note in [] if screen.quiet else notes:
            say(f"note: {note}")
    if output is None or vessel is None:
        return
    from passage.errors import OutputError
    from passage.files import write_text
    from passage.inputs.vessel import update_vessel_text, vessel_from_text

    ratio = fit.natural_period_s / ship.roll.natural_period_s if ship is not None else 1.0
    if not 1.0 / MOST_PERIOD_RATIO <= ratio <= MOST_PERIOD_RATIO:
        raise OutputError(f"{output}: not written: {_compare(fit, ship)[0]}")
    if not changes:
        raise OutputError(f"{output}: not written: the record gives nothing to change.")
    text = vessel.read_bytes().decode("utf-8-sig")
    try:
        new = update_vessel_text(text, changes, note=f"fitted to {record.name}")
    except ValueError as err:
        raise OutputError(f"{output}: not written: {err}. Change the keys by hand.") from err
    vessel_from_text(new, str(output))
    write_text(output, new, force=force)
    say(f"{output} written.")


def _compare(fit: DecayFit, ship: Vessel | None) -> list[str]:
    """What makes it doubtful that the record is of this ship."""
    if ship is None:
        return []
    ratio = fit.natural_period_s / ship.roll.natural_period_s
    text = (
        f"the record's period is {fit.natural_period_s:.2f} s, and the vessel file's "
        f"{ship.roll.natural_period_s:.2f} s"
    )
    if abs(ratio - 0.5) < 0.1:
        return [f"{text}: half of it. Are the peaks all on one side? Then use --same-side."]
    if abs(ratio - 2.0) < 0.4:
        return [f"{text}: twice it. Do the peaks go from side to side? Then leave --same-side."]
    if not 0.8 < ratio < 1.25:
        return [f"{text}. Was the record taken at another loading?"]
    return []


def _changes(
    fit: DecayFit, ship: Vessel | None, speed_kn: float
) -> tuple[dict[tuple[str | int, ...], float], list[str]]:
    """Keys of the vessel file the record can set."""
    if speed_kn == 0.0:
        notes = []
        if fit.damping_ratio < LEAST_RATIO:
            notes = [f"damping_ratio is written as {LEAST_RATIO:g}: a vessel file takes no zero"]
        return {
            ("roll", "natural_period_s"): round(fit.natural_period_s, 3),
            ("roll", "damping_ratio"): max(round(fit.damping_ratio, 5), LEAST_RATIO),
            ("roll", "quadratic_damping"): round(fit.quadratic_damping, 4),
        }, notes
    if ship is None:
        return {}, ["with --vessel, a decay under way gives damping_ratio_per_kn"]
    per_kn = (fit.damping_ratio - ship.roll.damping_ratio) / speed_kn
    if per_kn < 0.0:
        return {}, [
            f"damping at {speed_kn:g} kn is less than the vessel file's at rest, "
            f"{ship.roll.damping_ratio:.4f}; fit a decay at rest first"
        ]
    return {("roll", "damping_ratio_per_kn"): round(per_kn, 6)}, [
        "fins in the water under way damp roll even when centred; the vessel file's damping "
        "is the hull's alone, so take the decay with the fins stowed, or expect too much damping"
    ]


def _table(
    fit: DecayFit, speed_kn: float, ship: Vessel | None, changes: dict[tuple[str | int, ...], float]
) -> str:
    """The result for people."""
    import numpy as np

    low, high = fit.amplitude_range_deg
    now = ship.roll if ship is not None else None
    rows = [
        ("natural_period_s", fit.natural_period_s, fit.natural_period_sd_s, 2),
        ("damping_ratio", fit.damping_ratio, fit.damping_ratio_sd, 4),
        ("quadratic_damping", fit.quadratic_damping, fit.quadratic_damping_sd, 3),
    ]
    head = f"{'value':<24}{'fitted':>10}{'+-':>10}"
    lines = [
        f"{fit.n_peaks} peaks from {high:.1f} to {low:.1f} deg at {speed_kn:g} kn; "
        f"scatter {fit.residual_deg:.2f} deg, {_list_words(fit)}",
        head + (f"{'vessel file':>14}" if now is not None else ""),
    ]
    for key, value, sd, places in rows:
        deviation = f"{TWO * sd:.{places}f}" if np.isfinite(sd) else "-"
        line = f"{key:<24}{value:>10.{places}f}{deviation:>10}"
        if now is not None:
            line += f"{getattr(now, key):>14.{places}f}"
        lines.append(line)
    if ("roll", "damping_ratio_per_kn") in changes and now is not None:
        value = changes["roll", "damping_ratio_per_kn"]
        deviation = f"{TWO * fit.damping_ratio_sd / speed_kn:.5f}"
        lines.append(
            f"{'damping_ratio_per_kn':<24}{value:>10.5f}{deviation:>10}"
            f"{now.damping_ratio_per_kn:>14.5f}"
        )
    shown = [a for a in (2.0, 5.0, 10.0, 15.0, 20.0) if low <= a <= high]
    if shown:
        ratio = fit.equivalent_ratio(np.radians(shown))
        text = ", ".join(f"{r:.3f} at {a:g} deg" for a, r in zip(shown, ratio, strict=True))
        lines.append(f"equivalent damping ratio {text}")
    lines.append("+-: two standard deviations, from the scatter of the peaks about the fit")
    return "\n".join(lines)


def _list_words(fit: DecayFit) -> str:
    """The list, or that peaks of one side cannot show one."""
    if any(note.startswith("peaks of one side") for note in fit.notes):
        return "no list can be seen"
    drift = f", drifting {fit.drift_deg_per_min:+.2f} deg/min" if fit.drift_deg_per_min else ""
    return f"list {fit.list_deg:+z.2f} deg{drift}"


def _as_json(
    fit: DecayFit,
    speed_kn: float,
    notes: list[str],
    changes: dict[tuple[str | int, ...], float],
) -> dict[str, Any]:
    """The result for programs; what is not known is null."""
    import dataclasses
    import math

    values = dataclasses.asdict(fit)
    values = {
        key: None if isinstance(value, float) and not math.isfinite(value) else value
        for key, value in values.items()
    }
    values["speed_kn"] = speed_kn
    values["notes"] = notes
    values["vessel_keys"] = {".".join(map(str, path)): value for path, value in changes.items()}
    return values
