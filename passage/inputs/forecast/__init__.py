"""Forecast files: open, recognise, normalise once, sample along a track."""

from passage.inputs.forecast.conditions import Conditions, DirectionalSpectrum
from passage.inputs.forecast.forecast import (
    Area,
    Forecast,
    Source,
    open_forecast,
    recognise_files,
)
from passage.inputs.forecast.mapping import read_map

__all__ = [
    "Area",
    "Conditions",
    "DirectionalSpectrum",
    "Forecast",
    "Source",
    "open_forecast",
    "read_map",
    "recognise_files",
]
