"""Words for heel, litres and transfers, common to all reports."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from passage.planning.heel.model import SEA, HeelProblem
from passage.planning.heel.moves import Move


@dataclass(frozen=True, kw_only=True)
class TransferAdvice:
    """One transfer as ordered; ``hours_into_leg`` is 0 for one as the leg begins."""

    before_leg: int
    source: str
    target: str
    amount_m3: float
    mass_t: float
    pumping_h: float
    hours_into_leg: float = 0.0


def side_words(heel_deg: float) -> str:
    """``0.8 deg to starboard``, or ``upright``."""
    if abs(heel_deg) < 0.05:
        return "upright"
    return f"{abs(heel_deg):.1f} deg to {'starboard' if heel_deg > 0 else 'port'}"


#: Heel to the other side from which it is named too [deg]; half a degree is felt.
BOTH_DEG = 0.5


def worst_to(heel_deg: npt.ArrayLike) -> tuple[float, float]:
    """Largest heel to port and to starboard, both 0 or more. [deg]"""
    heel = np.asarray(heel_deg, dtype=float)
    return max(float(np.nanmax(-heel)), 0.0), max(float(np.nanmax(heel)), 0.0)


def sides_words(heel_deg: npt.ArrayLike) -> str:
    """``1.0 deg to port and 0.8 deg to starboard``: the worst first, the other if it is felt."""
    port, starboard = worst_to(heel_deg)
    sides = sorted((-port, starboard), key=abs, reverse=True)
    words = side_words(sides[0])
    return f"{words} and {side_words(sides[1])}" if abs(sides[1]) >= BOTH_DEG else words


def litres_words(litres: float) -> str:
    """Litres, without decimals from twenty on."""
    if abs(litres) < 0.05:
        litres = 0.0
    return f"{litres:,.{0 if abs(litres) >= 20.0 else 1}f} l"


def time_words(hours: float, miles: float) -> str:
    """Minutes and miles lost at a held fuel rate."""
    return f"{60.0 * hours:.0f} min ({miles:.1f} nm)"


def price_words(problem: HeelProblem, litres: float) -> str:
    """Litres, and money when a fuel price is known."""
    words = litres_words(litres)
    if problem.fuel_price_per_l:
        if abs(litres) < 0.05:
            litres = 0.0
        digits = 0 if abs(litres) >= 20.0 else 1
        words += f" ({litres * problem.fuel_price_per_l:,.{digits}f} {problem.currency})".replace(
            " )", ")"
        )
    return words


def tank_words(problem: HeelProblem, index: int) -> str:
    """Name of a tank, or the sea."""
    return "the sea" if index == SEA else problem.tanks[index].name


def transfer_advice(problem: HeelProblem, move: Move) -> TransferAdvice:
    """A move with names, mass and pumping time."""
    tank = problem.tanks[move.source if move.source >= 0 else move.target]
    leg = int(problem.leg_of[move.point])
    before = (problem.leg_of == leg) & (np.arange(problem.n_points) < move.point)
    return TransferAdvice(
        before_leg=leg + 1,
        hours_into_leg=float(problem.hours[before].sum()),
        source=tank_words(problem, move.source),
        target=tank_words(problem, move.target),
        amount_m3=move.amount_m3,
        mass_t=move.amount_m3 * tank.density_t_m3,
        pumping_h=move.amount_m3 / problem.rate_m3_per_h,
    )


def transfer_words(one: TransferAdvice) -> str:
    """The order for one transfer."""
    amount = f"{one.amount_m3:.1f} m3 ({one.mass_t:.1f} t)"
    return f"{_action(one, amount)}, {one.pumping_h * 60.0:.0f} min at the pump"


def _action(one: TransferAdvice, amount: str) -> str:
    if one.source == "the sea":
        return f"take {amount} of ballast into {one.target}"
    if one.target == "the sea":
        return f"discharge {amount} from {one.source}"
    return f"move {amount} from {one.source} to {one.target}"


def way_words(name: str, moves: Sequence[Move], decimals: int = 1) -> str:
    """What a way is called beside others: by what it moves, or by what the fins do.

    ``move 2.3 m3``, ``move 4.1 m3 in 2 transfers``, ``fins to limit``, ``leave it``.
    """
    if not moves:
        return name
    times = f" in {len(moves)} transfers" if len(moves) > 1 else ""
    return f"move {sum(move.amount_m3 for move in moves):.{decimals}f} m3{times}"


def order_words(problem: HeelProblem, move: Move) -> str:
    """A transfer with the leg, or the hour, before which it is made."""
    one = transfer_advice(problem, move)
    return f"{_when(one)} {transfer_words(one)}"


def _when(one: TransferAdvice) -> str:
    if one.hours_into_leg > 0.0:
        return f"{one.hours_into_leg:.1f} h into leg {one.before_leg}"
    return f"before leg {one.before_leg}"


#: More transfers than this are counted, not listed, in a sentence.
_MOST_ORDERS = 3


def short_orders(problem: HeelProblem, moves: Sequence[Move]) -> str:
    """The orders of a sequence in a clause; of more than three only their number and amount.

    ``move 3.3 m3 from fuel starboard to fuel port before leg 1 and 4.3 m3 back before leg 2``;
    tonnes and minutes at the pump are for the legs. Empty without moves.
    """
    if len(moves) > _MOST_ORDERS:
        moved = sum(move.amount_m3 for move in moves)
        legs = sorted({int(problem.leg_of[move.point]) + 1 for move in moves})
        before = f"leg{'s' if len(legs) > 1 else ''} {', '.join(map(str, legs))}"
        return f"make {len(moves)} transfers, {moved:.1f} m3 in all, before {before}"
    parts: list[str] = []
    last: Move | None = None
    for move in moves:
        one = transfer_advice(problem, move)
        amount = f"{one.amount_m3:.1f} m3"
        back = last is not None and (move.source, move.target) == (last.target, last.source)
        back = back and SEA not in (move.source, move.target)
        what = f"{amount} back" if back else _action(one, amount)
        parts.append(f"{what} {_when(one)}")
        last = move
    head = ", ".join(parts[:-1])
    return " and ".join(part for part in (head, *parts[-1:]) if part)
