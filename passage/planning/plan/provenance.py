"""Files, hashes, methods and estimates behind a result."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from passage.inputs.forecast import Forecast
from passage.physics.resistance.wind import REGRESSION
from passage.planning.voyage.prepare import Passage, PlanOptions
from passage.planning.voyage.yacht import Yacht
from passage.units import utc_text

if TYPE_CHECKING:
    pass


def provenance(passage: Passage, forecast: Forecast, options: PlanOptions) -> dict[str, Any]:
    """Files, hashes, methods and estimates behind a result."""
    vessel = passage.vessel
    return {
        "forecasts": [
            {
                "file": source.file,
                "sha256": source.sha256,
                "hashed": source.hashed,
                "producer": source.producer,
                "run_utc": source.run_utc,
                "first_utc": source.first_utc,
                "last_utc": source.last_utc,
            }
            for source in forecast.sources
        ],
        "vessel_file": vessel.path,
        "vessel_sha256": vessel.sha256,
        "route_file": passage.route.path,
        "methods": methods(passage.yacht, options),
        "estimated": [
            f"{item.key} = {_figure(item.value)} {item.unit}".rstrip()
            + (
                f", {_figure(item.low)} to {_figure(item.high)}"
                if item.low is not None and item.high is not None and item.low < item.high
                else ""
            )
            + f": {item.method}"
            for item in vessel.estimated
        ],
        "departure_utc": utc_text(options.departure_s),
        "options": {
            "hold": options.hold,
            "fins": options.fins,
            "rest_fins": options.rest_fins,
            "heel": options.heel,
            "minutes": options.minutes,
            "waves": options.wave_method,
            "harbour": {"within_nm": options.harbour_nm, "sea": options.harbour_sea}
            if options.harbour_nm
            else None,
        },
    }


def _figure(value: float | str) -> str:
    return value if isinstance(value, str) else f"{value:.4g}"


def _slope_words(yacht: Yacht) -> str:
    given, strips = yacht.excitation.slope_coefficient, yacht.excitation.response
    rule = "by formula" if strips is None else "by strip theory, sway and yaw free"
    return rule if given is None else f"{rule}, times {given:g} as given"


def _motion_words(yacht: Yacht, options: PlanOptions) -> str:
    if not yacht.own_motions:
        return f"heave and pitch: response functions of {options.responses}"
    if yacht.strips is None:
        return (
            "heave and pitch: closed-form expressions (Jensen, Mansour & Olsen 2004), as no "
            "hull sections fit the coefficients of the vessel file"
        )
    lines = "the vessel file's sections" if yacht.vessel.particulars.sections else "sections"
    return f"heave and pitch: strip theory (Salvesen, Tuck & Faltinsen 1970) on {lines}" + (
        "" if yacht.vessel.particulars.sections else " from the main dimensions"
    )


def methods(yacht: Yacht, options: PlanOptions) -> list[str]:
    """Methods used in the plan, one line each."""
    from passage.physics.resistance.waves import range_notes

    wind = yacht.vessel.windage
    lines = [
        "roll: one degree of freedom, statistical linearisation with bias; "
        "effective wave slope " + _slope_words(yacht),
        _motion_words(yacht, options),
        {
            "all-heading": "waves: all-heading semi-empirical formula (SNNM), two variants"
            + ("" if yacht.strips is None else "; energy radiated by strip theory as a third"),
            "stawave-1": "waves: STAWAVE-1, head sea, tapered with heading",
            "kreitner": "waves: Kreitner, head sea, tapered with heading",
        }[options.wave_method],
        (
            "wind: Fujiwara's regression on the main dimensions, for merchant ships"
            if wind.family == REGRESSION
            else f"wind: Blendermann's coefficients, class {wind.family} (from memory)"
        )
        if wind
        else "wind: none, the vessel file has no [windage]",
        "current: corrected for in the course to steer; leeway ignored",
        "still water: the vessel file's speed-fuel points, monotone through all of them",
        "roll band: GM 10 % either way",
    ]
    lines += list(range_notes(yacht.resistance_hull))
    return lines
