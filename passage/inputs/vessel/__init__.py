"""The vessel file: read, check, estimate, change."""

from passage.inputs.vessel.edit import update_vessel_text, vessel_to_toml
from passage.inputs.vessel.model import (
    Burn,
    Estimate,
    FinPair,
    Hotel,
    Limits,
    LimitSet,
    Loading,
    LoadingEvent,
    Money,
    Particulars,
    Place,
    Propulsion,
    Roll,
    Tank,
    Transfer,
    Vessel,
    Windage,
)
from passage.inputs.vessel.reader import read_vessel, vessel_from_text
from passage.inputs.vessel.schema import vessel_json_schema

__all__ = [
    "Burn",
    "Estimate",
    "FinPair",
    "Hotel",
    "LimitSet",
    "Limits",
    "Loading",
    "LoadingEvent",
    "Money",
    "Particulars",
    "Place",
    "Propulsion",
    "Roll",
    "Tank",
    "Transfer",
    "Vessel",
    "Windage",
    "read_vessel",
    "update_vessel_text",
    "vessel_from_text",
    "vessel_json_schema",
    "vessel_to_toml",
]
