"""Bands of fuel and roll from the record of her past passages, and their sentences."""

from __future__ import annotations

from dataclasses import asdict
from pathlib import Path
from typing import Any

import numpy as np

from passage.inputs.records.record_file import read_record
from passage.inputs.vessel import Vessel
from passage.planning.record.shares import (
    ENOUGH,
    FEWEST,
    KEPT,
    LEVEL,
    Band,
    band_of,
    numbers_of,
    shares_of,
)
from passage.planning.voyage.evaluate import Evaluation
from passage.planning.voyage.march import March


def bands_from_record(
    file: Path, vessel: Vessel, way: March, evaluation: Evaluation, fins: str = "active"
) -> tuple[tuple[str, ...], dict[str, Any]]:
    """Replace the bands of the formulas by those of the record, in ``evaluation`` itself.

    ``fins`` is the user's choice, which decides whether the band is of active or centred roll.

    Returns
    -------
    tuple of str
        Notes for the plan.
    dict
        The bands as numbers, for the provenance.

    Notes
    -----
    A band is a factor on computed values: on the fuel of the main engines and on the roll, the
    same at every point. It is for the passage; a single leg scatters more. With three to eight
    passages it is a weighted mean of the formula's band and that of the passages.
    """
    record = read_record(file)
    found: dict[str, Any] = {"file": str(file)}
    notes = []
    for key, unit in KEPT:
        shares = shares_of(record, vessel.name, key, unit, numbers_of(vessel, key))
        count, others = int(shares.share.size), shares.otherwise
        found[key] = {"passages": count, "with_other_numbers": others}
        band = band_of(shares.share)
        if band is not None:
            found[key] |= asdict(band)
            _put(way, evaluation, key, band, fins)
            notes.append(_words(key, band))
            continue
        passages = "1 passage" if count == 1 else f"{count} passages"
        more = f", and {others} computed with other numbers of the vessel file" if others else ""
        notes.append(
            f"The band of {key} is the formula's: {file.name} holds {passages} of "
            f"{vessel.name} with a model's share of it{more}; {FEWEST} are needed."
        )
    if any("middle" in found[key] for key, _ in KEPT):
        notes.append(
            f"From the passages in {file.name}, without the forecast's share. These bands "
            f"hold {100.0 * LEVEL:.0f} % of passages; a single leg scatters more."
        )
    return tuple(notes), found


def methods_with(record: dict[str, Any] | None, methods: list[str]) -> list[str]:
    """The plan's methods, with the source of its bands."""
    if record is None or "middle" not in record["roll"]:
        return methods
    kept = [line for line in methods if not line.startswith("roll band")]
    return [*kept, f"roll band: her past passages ({record['file']})"]


_NAMES = {
    "fuel": ("fuel_low_l", "fuel_high_l"),
    "roll": ("roll_active_low_rms_deg", "roll_active_high_rms_deg"),
}


def _put(way: March, evaluation: Evaluation, key: str, band: Band, fins: str) -> None:
    """Set the ends of a band at every point."""
    values = evaluation.values
    if key == "fuel":
        engines = evaluation.split.main_engines * way.hours
        others = values["fuel_l"] - engines
    else:
        felt = "active" if fins == "active" else "centred"
        engines = values[f"roll_{felt}_rms_deg"]
        others = np.zeros_like(engines)
    for name, factor in zip(_NAMES[key], (band.low, band.high), strict=True):
        new = others + factor * engines
        values[name] = np.asarray(values[name] + band.weight * (new - values[name]))


def _words(key: str, band: Band) -> str:
    """``On her last 14 passages fuel came out 3 % above what was computed (-2 to +8 %).``"""
    value = round(100.0 * (band.middle - 1.0))
    word = "above" if value > 0 else "below"
    how = f"{abs(value)} % {word} what was computed" if value else "as computed"
    low, high = (round(100.0 * (one - 1.0)) + 0 for one in (band.low, band.high))
    text = (
        f"On her last {band.count} passages {key} came out {how} ({low:+d} to {high:+d} %): the "
        "band of this plan"
    )
    if band.weight < 1.0:
        text += f" for {band.count} parts of {ENOUGH}, the formula's for the rest"
    return text + "."
