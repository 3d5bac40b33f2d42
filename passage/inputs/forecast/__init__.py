"""Forecast files: open, recognise, normalise once, sample along a track."""

from passage.inputs.forecast.conditions import Conditions, DirectionalSpectrum
from passage.inputs.forecast.forecast import Forecast, Source
from passage.inputs.forecast.mapping import read_map
from passage.inputs.forecast.opening import (
    ALL_HOURS,
    Area,
    box_around,
    open_forecast,
    recognise_files,
)

__all__ = [
    "ALL_HOURS",
    "Area",
    "Conditions",
    "DirectionalSpectrum",
    "Forecast",
    "Source",
    "box_around",
    "open_forecast",
    "read_map",
    "recognise_files",
]
