"""What a vessel file may hold, made from the declarations of `model`.

The pydantic models only check: `reader` turns what passes into the frozen
dataclasses of `model`. A key is declared there once, with its kind, its limits and a line
about it; a file may leave out what has a default, or what is filled in or estimated.
"""

from __future__ import annotations

import dataclasses
import types
from typing import (
    TYPE_CHECKING,
    Annotated,
    Any,
    TypeAlias,
    Union,
    get_args,
    get_origin,
    get_type_hints,
)

from pydantic import BaseModel, BeforeValidator, ConfigDict, Field, create_model

from passage.errors import one_line
from passage.inputs.vessel import model
from passage.inputs.vessel.keys import Key

#: Text of an untrusted file: on one line, without control characters.
Name = Annotated[str, BeforeValidator(lambda v: one_line(v) if isinstance(v, str) else v)]


class _Section(BaseModel):
    model_config = ConfigDict(strict=True, extra="forbid", frozen=True, allow_inf_nan=False)


#: What the file says in place of a dataclass.
_MADE: dict[Any, Any] = {str: Name}


def _in_file(kind: Any) -> Any:
    """The kind of a value as TOML has it: lists for tuples, sections for dataclasses."""
    if kind in _MADE:
        return _MADE[kind]
    if get_origin(kind) is tuple:
        return list[_in_file(get_args(kind)[0])]  # type: ignore[misc]
    if get_origin(kind) in (Union, types.UnionType):
        return Union[tuple(_in_file(one) for one in get_args(kind))]  # noqa: UP007 - made here
    return kind


def _field(spec: dataclasses.Field[Any], kind: Any) -> tuple[Any, Any]:
    """Kind and pydantic field of one key."""
    key: Key = spec.metadata["key"]
    kind = _in_file(kind)
    default: dict[str, Any] = {}
    if key.may_miss == "estimated":
        kind = kind | None
    if key.may_miss:
        default["default"] = None
    elif spec.default == ():
        default["default_factory"] = list
    elif spec.default is not dataclasses.MISSING:
        default["default"] = spec.default
    extra = None if key.unit is None else {"unit": key.unit}
    make: Any = Field
    return kind, make(**default, description=key.about, json_schema_extra=extra, **key.limits)


def _section(kind: Any, name: str) -> Any:
    """The pydantic model of a dataclass: the same keys, as a file gives them."""
    hints = get_type_hints(kind)
    keys: dict[str, Any] = {
        spec.name: _field(spec, hints[spec.name]) for spec in dataclasses.fields(kind)
    }
    made = create_model(name, __base__=_Section, __module__=__name__, __doc__=kind.__doc__, **keys)
    _MADE[kind] = made
    return made


if TYPE_CHECKING:
    # Made below; a type checker cannot see what is in them.
    VesselSection: TypeAlias = Any
    RollSection: TypeAlias = Any
    FinsSection: TypeAlias = Any
    PropulsionSection: TypeAlias = Any
    HotelSection: TypeAlias = Any
    WindageSection: TypeAlias = Any
    TankSection: TypeAlias = Any
    TransferSection: TypeAlias = Any
    LoadingSection: TypeAlias = Any
    PlaceSection: TypeAlias = Any
    LimitKeys: TypeAlias = Any
    LimitsSection: TypeAlias = Any
    MoneySection: TypeAlias = Any
    StandingSection: TypeAlias = Any
else:
    SectionRow = _section(model.SectionRow, "SectionRow")
    VesselSection = _section(model.Particulars, "VesselSection")
    RollSection = _section(model.Roll, "RollSection")
    FinsSection = _section(model.FinPair, "FinsSection")
    PropulsionSection = _section(model.Propulsion, "PropulsionSection")
    HotelSection = _section(model.Hotel, "HotelSection")
    WindageSection = _section(model.Windage, "WindageSection")
    TankSection = _section(model.Tank, "TankSection")
    TransferSection = _section(model.Transfer, "TransferSection")
    BurnSection = _section(model.Burn, "BurnSection")
    EventSection = _section(model.LoadingEvent, "EventSection")
    LoadingSection = _section(model.Loading, "LoadingSection")
    PlaceSection = _section(model.Place, "PlaceSection")
    LimitKeys = _section(model.LimitSet, "LimitKeys")
    MoneySection = _section(model.Money, "MoneySection")
    StandingSection = _section(model.Standing, "StandingSection")

    class LimitsSection(LimitKeys):
        """Limits for both, and tables that override them under way and at rest."""

        window_h: float = Field(
            default=1.0,
            ge=0.1,
            le=24,
            description="window that roll, accelerations and holding on are judged over",
            json_schema_extra={"unit": "h"},
        )
        underway: LimitKeys = Field(default_factory=LimitKeys, description="overrides under way")
        at_rest: LimitKeys = Field(default_factory=LimitKeys, description="overrides at rest")


class VesselFile(_Section):
    """A vessel file."""

    vessel: VesselSection = Field(description="the hull")
    roll: RollSection = Field(default_factory=RollSection, description="how she rolls")
    fins: list[FinsSection] = Field(
        default_factory=list, max_length=4, description="stabiliser fins"
    )
    propulsion: PropulsionSection = Field(description="speed and fuel")
    hotel: HotelSection | None = Field(None, description="generators and hydraulics")
    windage: WindageSection | None = Field(None, description="area above the water")
    tanks: list[TankSection] = Field(default_factory=list, max_length=60, description="tanks")
    transfer: TransferSection | None = Field(None, description="moving liquid")
    loading: LoadingSection = Field(default_factory=LoadingSection, description="list and burn")
    places: list[PlaceSection] = Field(
        default_factory=list, max_length=60, description="places judged"
    )
    limits: LimitsSection = Field(default_factory=LimitsSection, description="what is accepted")
    money: MoneySection | None = Field(None, description="prices")
    standing: StandingSection | None = Field(None, description="a list she always has")
    forecast_names: dict[str, str] = Field(
        default_factory=dict,
        description="our name of a quantity = the variable's name in the forecast files",
    )


def vessel_json_schema() -> dict[str, Any]:
    """JSON Schema (draft 2020-12) of a vessel file, for editors that check TOML."""
    schema = VesselFile.model_json_schema()
    schema["$schema"] = "https://json-schema.org/draft/2020-12/schema"
    schema["title"] = "passage vessel file"
    return schema
