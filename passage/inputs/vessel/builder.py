"""From a checked vessel file to the frozen dataclasses, noting every estimate."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any, TypeVar

from pydantic import BaseModel

from passage.inputs.vessel import estimates, model
from passage.inputs.vessel.complete import band_of
from passage.inputs.vessel.messages import unit_of
from passage.inputs.vessel.schema import (
    FinsSection,
    HotelSection,
    LimitKeys,
    VesselFile,
    WindageSection,
)
from passage.physics.fins.force import DEFAULT_LAG_S
from passage.physics.resistance.wind import DEFAULT_CLASS

T = TypeVar("T")


class Builder:
    """Turns a checked file into the frozen dataclasses, noting every estimate."""

    def __init__(self, file: VesselFile, filled: Sequence[model.Estimate] = ()) -> None:
        self.file = file
        self.estimated: list[model.Estimate] = list(filled)

    def note(self, key: str, value: float | str, unit: str, method: str) -> None:
        """Remember an estimate, with the ends of its band where it has one."""
        low, high = band_of(key, value)
        self.estimated.append(
            model.Estimate(key=key, value=value, unit=unit, method=method, low=low, high=high)
        )

    def pick(self, section: str, part: BaseModel, key: str, estimate: tuple[float, str]) -> float:
        """The file's value, or the estimate, which is noted."""
        given = getattr(part, key)
        if given is not None:
            return float(given)
        value, method = estimate
        self.note(f"{section}.{key}", value, unit_of(key, type(part).model_fields[key]), method)
        return value

    def vessel(self, *, warnings: tuple[str, ...], path: str, sha256: str) -> model.Vessel:
        """The whole vessel."""
        file = self.file
        particulars = self.particulars()
        tanks = tuple(self.tank(i) for i in range(len(file.tanks)))
        return model.Vessel(
            particulars=particulars,
            roll=self.roll(particulars),
            fins=tuple(self.fins(i, fins) for i, fins in enumerate(file.fins)),
            propulsion=self.propulsion(),
            hotel=self.hotel(),
            windage=self.windage(),
            tanks=tanks,
            transfer=_same(model.Transfer, file.transfer),
            loading=model.Loading(
                list_deg=float(file.loading.list_deg),
                burn=tuple(
                    model.Burn(tank=b.tank, share=float(b.share)) for b in file.loading.burn
                ),
                events=tuple(
                    model.LoadingEvent(
                        leg=e.leg,
                        miles_to_go=None if e.miles_to_go is None else float(e.miles_to_go),
                        moment_t_m=float(e.moment_t_m),
                        what=e.what,
                    )
                    for e in file.loading.events
                ),
            ),
            places=self.places(),
            limits=self.limits(),
            money=_same(model.Money, file.money),
            standing=_same(model.Standing, file.standing),
            forecast_names=dict(file.forecast_names),
            estimated=tuple(self.estimated),
            warnings=warnings,
            path=path,
            sha256=sha256,
        )

    def particulars(self) -> model.Particulars:
        """``[vessel]``."""
        v = self.file.vessel
        values: dict[str, Any] = _floats(v)

        def pick(key: str, estimate: tuple[float, str]) -> float:
            values[key] = self.pick("vessel", v, key, estimate)
            return float(values[key])

        block = pick("block_coefficient", estimates.block_coefficient(v))
        midship = pick("midship_coefficient", estimates.midship_coefficient(block))
        plane = pick("waterplane_coefficient", estimates.waterplane_coefficient(block, midship))
        pick("kg_m", estimates.kg(v, block, plane))
        pick(
            "length_overall_m", (v.length_waterline_m * 1.1, "1.1 x waterline length (assumption)")
        )
        pick("entrance_length_m", estimates.entrance_length(v))
        pick("run_length_m", estimates.run_length(v))
        pick("longitudinal_gyradius_m", estimates.longitudinal_gyradius(v))
        pick("bow_draught_m", (v.draught_m, "the mean draught"))
        values["sections"] = tuple(model.SectionRow(**_floats(row)) for row in v.sections)
        return model.Particulars(**values)

    def roll(self, p: model.Particulars) -> model.Roll:
        """``[roll]``, by the simplified Ikeda method where nothing was measured."""
        r = self.file.roll
        period = self.pick(
            "roll", r, "natural_period_s", estimates.natural_period(self.file.vessel)
        )
        axis = self.pick(
            "roll", r, "axis_above_waterline_m", (p.kg_m - p.draught_m, "at the centre of gravity")
        )
        values = _floats(r) | {"natural_period_s": period, "axis_above_waterline_m": axis}
        if None in (r.damping_ratio, r.damping_ratio_per_kn, r.quadratic_damping):
            ikeda = estimates.RollDampingEstimate(
                self.file.vessel,
                r,
                block=p.block_coefficient,
                midship=p.midship_coefficient,
                axis_above_waterline_m=axis,
                natural_period_s=period,
            )
            for key, value, method in (
                ("damping_ratio", ikeda.linear, ikeda.method),
                ("damping_ratio_per_kn", ikeda.per_kn, ikeda.method_per_kn),
                ("quadratic_damping", ikeda.quadratic, ikeda.method),
            ):
                values[key] = self.pick("roll", r, key, (value, method))
        return model.Roll(**values)

    def fins(self, i: int, f: FinsSection) -> model.FinPair:
        """One ``[[fins]]``."""
        values = _floats(f)
        for key, estimate in (
            ("stall_angle_deg", estimates.stall_angle(f)),
            ("efficiency", estimates.fin_efficiency(f, self.file.vessel.length_waterline_m)),
            ("flow_fraction", (1.0, "open water; the boundary layer is in the efficiency")),
            ("profile_drag_coefficient", (0.010, "smooth section with fouling (common practice)")),
            ("oswald_efficiency", (0.9, "from memory")),
            ("lag_s", (DEFAULT_LAG_S, "0.1 to 0.5 s is usual (common practice)")),
            ("taper_ratio", (0.45, "a usual fin (assumption)")),
        ):
            values[key] = self.pick(f"fins[{i + 1}]", f, key, estimate)
        return model.FinPair(**values)

    def propulsion(self) -> model.Propulsion:
        """``[propulsion]``."""
        p = self.file.propulsion
        values = _floats(p)
        for key, estimate in (
            ("propulsive_efficiency", (0.55, "a twin-screw yacht, 0.50 to 0.60 (assumption)")),
            (
                "specific_fuel_g_per_kwh",
                (215.0, "high-speed diesels, 205 to 225 (common practice)"),
            ),
            (
                "fuel_density_t_m3",
                (estimates.DENSITY_T_M3["fuel"], "marine gas oil (common practice)"),
            ),
            ("trial_displacement_t", (self.file.vessel.displacement_t, "taken as displacement_t")),
        ):
            values[key] = self.pick("propulsion", p, key, estimate)
        return model.Propulsion(**values)

    def hotel(self) -> model.Hotel:
        """``[hotel]``; hydraulics that are not given are zero, generators are estimated."""
        h = self.file.hotel or HotelSection()
        values = _floats(h)
        if "generator_l_per_h" not in h.model_fields_set:
            estimate, method = estimates.generators(self.file.vessel)
            values["generator_l_per_h"] = estimate
            self.note("hotel.generator_l_per_h", estimate, "l/h", method)
        values["fins_kw_at_rest"] = self.pick(
            "hotel", h, "fins_kw_at_rest", (float(h.fins_kw_active), "as under way, fins active")
        )
        values["generator_specific_fuel_g_per_kwh"] = self.pick(
            "hotel",
            h,
            "generator_specific_fuel_g_per_kwh",
            (240.0, "small generators, 220 to 270 (common practice)"),
        )
        return model.Hotel(**values)

    def windage(self) -> model.Windage:
        """``[windage]``; usual areas for her length and beam where they are not given."""
        w = self.file.windage or WindageSection()
        values = _floats(w)
        for key, estimate in estimates.windage(self.file.vessel).items():
            values[key] = self.pick("windage", w, key, estimate)
        values["air_draught_m"] = self.pick(
            "windage",
            w,
            "air_draught_m",
            (
                2.5 * values["lateral_centroid_above_waterline_m"],
                "2.5 x height of the centroid (assumption)",
            ),
        )
        if w.family is None:
            values["family"] = DEFAULT_CLASS
            self.note("windage.family", DEFAULT_CLASS, "", "wind coefficients (assumption)")
        return model.Windage(**values)

    def tank(self, i: int) -> model.Tank:
        """One ``[[tanks]]``."""
        t = self.file.tanks[i]
        values = _floats(t)
        values["density_t_m3"] = self.pick(
            f"tanks[{i + 1}]",
            t,
            "density_t_m3",
            (estimates.DENSITY_T_M3[t.holds], f"usual for {t.holds} (common practice)"),
        )
        return model.Tank(**values)

    def places(self) -> tuple[model.Place, ...]:
        """``[[places]]``; comfort has to be judged somewhere."""
        if self.file.places:
            return tuple(model.Place(**_floats(place)) for place in self.file.places)
        self.note(
            "places", "amidships", "", "none given: comfort judged amidships at the waterline"
        )
        return (model.Place(name="amidships", x_m=0.0, y_m=0.0, z_m=0.0),)

    def limits(self) -> model.Limits:
        """``[limits]``, the sub-tables overriding the keys for both."""
        both = self.file.limits

        def merged(own: LimitKeys, name: str) -> model.LimitSet:
            values = {
                key: getattr(own, key) if getattr(own, key) is not None else getattr(both, key)
                for key in LimitKeys.model_fields
            }
            values["name"] = values["name"] or name
            return model.LimitSet(**values)

        return model.Limits(
            underway=merged(both.underway, "under way"),
            at_rest=merged(both.at_rest, "at rest"),
            window_h=float(both.window_h),
        )


def _floats(part: BaseModel) -> dict[str, Any]:
    """The values of a section with whole numbers typed for lengths made floats."""
    values: dict[str, Any] = {}
    for key, info in type(part).model_fields.items():
        value = getattr(part, key)
        if isinstance(value, list):
            value = tuple(value)
        elif (
            isinstance(value, int)
            and not isinstance(value, bool)
            and "int" not in str(info.annotation)
        ):
            value = float(value)
        values[key] = value
    return values


def _same(kind: type[T], part: BaseModel | None) -> T | None:
    """A dataclass with the same keys as a section."""
    return None if part is None else kind(**_floats(part))
