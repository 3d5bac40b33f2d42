"""The ways side by side: fins, move liquid, leave it, and ballast where it is fitted."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from passage.planning.heel.flip import Flip
from passage.planning.heel.model import SEA
from passage.planning.heel.options import Comparison, Priced, simplest
from passage.planning.heel.points import Walked, roll_let_through_deg, sailed
from passage.planning.heel.single import best_single
from passage.planning.heel.tanks import Condition, TransferState, arrival, transfer_states
from passage.planning.heel.words import order_words, side_words, transfer_advice
from passage.units import utc_text


@dataclass(frozen=True, kw_only=True)
class Card:
    """One way, with everything a master weighs it by.

    ``roll_more_deg`` is the significant roll it lets through over fins without offset,
    at the point where that is most. ``gm_least_m`` counts the time the pump runs.
    ``why_not`` says why the way cannot be gone, and the numbers are then ``None``.
    ``brief`` is ``does`` in few words.
    """

    way: str
    does: str
    advised: bool = False
    priced: Priced | None = None
    why_not: str = ""
    roll_more_deg: float | None = None
    worst_leg: int | None = None
    worst_utc: str | None = None
    gm_least_m: float | None = None
    trim_m: float | None = None
    crew_h: float | None = None
    brief: str = ""
    transfers: tuple[TransferState, ...] = ()
    arrival: Condition | None = None
    flip: str = ""


def heel_cards(comparison: Comparison, walked: Walked, flip: Flip | None) -> tuple[Card, ...]:
    """Fins, move liquid, leave it, and ballast where it is fitted; the advice marked.

    Where the advice is a mixture of several ways it is a card of its own, the first.
    """
    problem, vessel = comparison.problem, walked.passage.vessel
    plan = comparison.plan
    by_name = {one.name: one for one in comparison.policies}
    fins = by_name.get("fins down to the limit") or by_name.get("fins hold all of it")
    leave = by_name.get("never correct")
    cards: list[Card] = []
    liquid = tuple(p for p in problem.pairs if SEA not in p and not _ballast(comparison, p))
    water = tuple(p for p in problem.pairs if p not in liquid)
    moves = {(m.source, m.target) for m in plan.moves}

    def made(way: str, one: Priced | None, why_not: str) -> Card:
        if one is None:
            return Card(way=way, does="", why_not=why_not)
        if one.passage_fuel_l is None:
            one = sailed(walked, problem, one)[0]
        return _card(comparison, walked, way, one, flip)

    if not vessel.fins:
        cards.append(Card(way="fins", does="", why_not="no fins fitted"))
    elif not np.any(comparison.cost.fin_max > 0.0):
        cards.append(Card(way="fins", does="", why_not="nowhere open on this passage"))
    else:
        cards.append(made("fins", fins or leave, ""))
    for way, pairs, none in (
        ("move liquid", liquid, "no tanks that can exchange liquid across the centreline"),
        ("ballast", water, ""),
    ):
        if not pairs:
            if none:
                cards.append(Card(way=way, does="", why_not=none))
            continue
        if moves and moves <= set(pairs):
            one: Priced | None = plan
        else:
            single = best_single(problem, pairs)
            one = simplest(problem, comparison.cost, single) if single else None
        cards.append(made(way, one, "no transfer is open: roll, tanks or the master forbid it"))
    cards.append(made("leave it", leave or plan, ""))
    if not any(card.advised for card in cards):
        cards.insert(0, made("advice", plan, ""))
    seen: list[Card] = []
    for card in cards:
        # Of two cards that advise the same the first stays marked.
        if card.advised and any(other.advised for other in seen):
            card = replace(card, advised=False)
        seen.append(card)
    order = ("advice", "fins", "move liquid", "leave it", "ballast")
    return tuple(sorted(seen, key=lambda card: order.index(card.way)))


def _ballast(comparison: Comparison, pair: tuple[int, int]) -> bool:
    return any(i != SEA and comparison.problem.tanks[i].holds == "ballast" for i in pair)


def _card(comparison: Comparison, walked: Walked, way: str, one: Priced, flip: Flip | None) -> Card:
    problem, vessel = comparison.problem, walked.passage.vessel
    states = transfer_states(vessel, problem, one.moves)
    end = arrival(vessel, problem, one.moves)
    more = None
    if one.roll_significant_deg is not None:
        diff = roll_let_through_deg(walked, one.fins_t_m, one.roll_significant_deg)
        more = float(np.nanmax(diff)) if np.any(np.isfinite(diff)) else None
    trims = [c.trim_m for s in states for c in (s.before, s.after)] + [end.trim_m]
    trim = None if any(t is None for t in trims) else max(trims, key=lambda t: abs(t or 0.0))
    least = min([float(one.gm_m.min()), *(s.gm_pumping_m for s in states)])
    advised = (
        one.moves == comparison.plan.moves
        and one.rule == comparison.plan.rule
        and one.name == comparison.plan.name
    )
    time = walked.way.time_s[one.worst]
    return Card(
        way=way,
        does=_does(comparison, one),
        brief=_brief(comparison, one),
        advised=advised,
        priced=one,
        roll_more_deg=more,
        worst_leg=int(problem.leg_of[one.worst]) + 1,
        worst_utc=utc_text(float(time)) if np.isfinite(time) else None,
        gm_least_m=least,
        trim_m=trim,
        crew_h=_crew_h(walked, one),
        transfers=states,
        arrival=end,
        flip=flip.words if flip is not None and advised else "",
    )


def _crew_h(walked: Walked, one: Priced) -> float:
    transfer = walked.passage.vessel.transfer
    if transfer is None:
        return 0.0
    return len(one.moves) * transfer.crew_minutes_per_transfer / 60.0


def _does(comparison: Comparison, one: Priced) -> str:
    """What is done, in a line."""
    problem = comparison.problem
    words = [order_words(problem, move) for move in one.moves]
    held = np.abs(one.fins_t_m) > 0.0
    hours = float(one.hours[held].sum())
    if hours > 0.0:
        worst = side_words(one.worst_heel_deg)
        if one.rule == "all":
            words.append(f"fins hold all they can for {hours:.1f} h")
        else:
            words.append(f"fins hold {'the rest' if one.moves else 'it'} for {hours:.1f} h")
        words.append(f"at most {worst} is left")
    elif not one.moves:
        words.append("nothing; she leans up to " + side_words(one.worst_heel_deg))
    return "; ".join(words)


def _brief(comparison: Comparison, one: Priced) -> str:
    """What is done, in few words."""
    problem = comparison.problem
    words = []
    for move in one.moves:
        order = transfer_advice(problem, move)
        way = f"{order.source} to {order.target}".replace("the sea", "sea")
        words.append(f"leg {order.before_leg}: {order.amount_m3:.1f} m3 {way}")
    hours = float(one.hours[np.abs(one.fins_t_m) > 0.0].sum())
    if hours > 0.0:
        words.append(f"fins hold {'the rest' if one.moves else 'it'} for {hours:.0f} h")
    return "; ".join(words) if words else "nothing is done"
