"""A standing list: the ways of living with it, as variants of one season.

Every way is computed by the code of the season itself, and so as in a plan, on departures
spread evenly over it: those a few hours apart meet the same weather and add nothing.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field, replace
from typing import Literal

import numpy as np

from passage.inputs.vessel import Vessel
from passage.planning.voyage.yacht import Yacht
from passage.units import deg_to_rad, rad_to_deg

Way = Literal["upright", "moved", "fins", "limit", "leave", "permanent"]
#: Departures, for each route and speed, computed in every way: at least so many of a long
#: season; of a short one at least the second number, if they are no closer than the hours. The
#: shortest spell of weather lasts two days, so those between meet the same.
LEAST_SAMPLE, SHORT_SAMPLE, APART_H = 120, 40, 18.0
#: Time that the ways may take, as a share of the season's own; and the cost of one departure
#: in one more way once its sea is known, as a share of that departure (docs/season.md).
SHARE_OF_TIME, COST_OF_WAY = 0.2, 0.6
#: Lists that a transfer may leave at departure besides none, as shares of the owner's limit.
LEFT_SHARES = (-1.0, -0.5, 0.5, 1.0)
#: Numbers kept of a departure in each way.
KEPT = (
    "fuel_l", "fuel_fins_offset_l", "fin_travel_deg", "worst_window_roll_significant_deg",
    "worst_leg_steady_heel_deg", "status", "within_limits",
)  # fmt: skip


@dataclass(frozen=True)
class Ballast:
    """Permanent weight [t], its distance to starboard and above the waterline [m].

    ``free_surface_t_m`` is its reduction of displacement x GM while slack; 0 for solid
    ballast and a tank pressed full.
    """

    weight_t: float
    y_m: float
    z_m: float
    free_surface_t_m: float = 0.0


@dataclass(frozen=True)
class Variant:
    """One way at one list [deg]; "upright" has none and is the reference for every list.

    "moved" has a list that a transfer leaves, whatever it was before.
    "fins" has them hold all heel; in every other way but "leave" they hold what is beyond the
    owner's limit, or all of it where he has none (not ``limited``).
    """

    way: Way
    list_deg: float
    limited: bool = field(default=True, compare=False)

    @property
    def heel(self) -> str:
        """How the fins treat steady heel, as in ``rolling.Choices``."""
        if self.way == "leave":
            return "leave"
        return "limit" if self.limited and self.way != "fins" else "fins"


def variants(
    lists_deg: Iterable[float],
    ballast: Ballast | None,
    *,
    limited: bool = True,
    left_deg: Iterable[float] = (),
) -> tuple[Variant, ...]:
    """Ways to compute for these lists; empty without a list.

    ``limited``: the owner limits steady heel under way. ``left_deg`` are lists that a transfer
    may leave.
    """
    lists = tuple(lists_deg)
    if not lists:
        return ()
    ways: list[Way] = ["fins", "leave"]
    if limited:
        ways.append("limit")
    if ballast:
        ways.append("permanent")
    return (
        Variant("upright", 0.0, limited),
        *(Variant("moved", one, limited) for one in left_deg),
        *(Variant(way, one, limited) for one in lists for way in ways),
    )


def way_groups(ways: Sequence[Variant]) -> list[list[int]]:
    """Indices of the ways that share a sea, and so are sailed together."""
    kinds = [way.way == "permanent" for way in ways]
    return [[i for i, kind in enumerate(kinds) if kind == one] for one in dict.fromkeys(kinds)]


def sample_step(departures: int, ways: int, every_h: float) -> int:
    """Step between the departures that are computed in every way."""
    if not ways:
        return 1
    # The sea twice (her response differs with the ballast), and every way.
    cost = 2.0 + COST_OF_WAY * ways
    wanted = max(LEAST_SAMPLE, int(departures * SHARE_OF_TIME / cost))
    apart = min(int(APART_H / every_h), departures // SHORT_SAMPLE)
    step = max(1, apart, departures // wanted)
    # An even step would leave out some hours of the day.
    return step + 1 if step > 1 and step % 2 == 0 else step


def with_list(vessel: Vessel, list_deg: float) -> Vessel:
    """The vessel with another list at departure. [deg]"""
    return replace(vessel, loading=replace(vessel.loading, list_deg=list_deg))


def with_ballast(vessel: Vessel, ballast: Ballast) -> Vessel:
    """The vessel with the weight aboard: displacement, GM, roll period and list.

    The hull is taken as vertical at the waterline, where it gains displacement. So weight
    below the waterline adds to displacement x GM and weight above takes from it, as for
    liquid in tanks. The radius of gyration in roll is unchanged. No GM left gives NaN.
    """
    hull = vessel.particulars
    stiffness = hull.displacement_t * hull.gm_m
    after = stiffness - ballast.weight_t * ballast.z_m - ballast.free_surface_t_m
    displacement = hull.displacement_t + ballast.weight_t
    gm = after / displacement if after > 0.0 else np.nan
    moment = (
        stiffness * np.tan(deg_to_rad(vessel.loading.list_deg)) + ballast.weight_t * ballast.y_m
    )
    listed = float(rad_to_deg(np.arctan(moment / (displacement * gm))))
    heavier = replace(
        vessel,
        particulars=replace(hull, displacement_t=displacement, gm_m=gm),
        roll=replace(
            vessel.roll,
            natural_period_s=vessel.roll.natural_period_s * float(np.sqrt(hull.gm_m / gm)),
        ),
    )
    return with_list(heavier, listed)


def ballasted(yacht: Yacht, ballast: Ballast) -> Yacht:
    """The yacht with the weight aboard; hull form and tables are unchanged."""
    heavier = yacht.guessed_otherwise(with_ballast(yacht.vessel, ballast))
    if yacht.curve.idle_l_per_h is not None:
        heavier.allow_slow()
    return heavier


def ballast_words(vessel: Vessel, ballast: Ballast) -> str:
    """The effect of the weight on list and GM, in words."""
    heavier = with_ballast(with_list(vessel, 0.0), ballast)
    hull, after = vessel.particulars, heavier.particulars
    turn = -heavier.loading.list_deg
    words = (
        f"{ballast.weight_t:g} t at {abs(ballast.y_m):g} m to "
        f"{'starboard' if ballast.y_m > 0.0 else 'port'} and {abs(ballast.z_m):g} m "
        f"{'above' if ballast.z_m > 0.0 else 'below'} the waterline takes out {abs(turn):.2f} deg "
        f"of list to {'starboard' if turn > 0.0 else 'port'}, GM "
        f"{hull.gm_m:.2f} to {after.gm_m:.2f} m"
    )
    least = hull.minimum_gm_m
    if least is not None and after.gm_m < least:
        words += f", under the least allowed {least:.2f} m"
    return words
