"""The ways side by side: fins, move liquid, leave it, and ballast where it is fitted."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass, replace

import numpy as np
import numpy.typing as npt

from passage.planning.heel.flip import Flip
from passage.planning.heel.model import SEA, HeelProblem
from passage.planning.heel.options import POLICIES, Comparison, Priced, simplest
from passage.planning.heel.points import Voyage
from passage.planning.heel.sailed import roll_let_through_deg, sailed
from passage.planning.heel.single import best_single, useless_addition
from passage.planning.heel.tanks import Condition, TransferState, arrival, transfer_states
from passage.planning.heel.words import (
    litres_words,
    order_words,
    price_words,
    sides_words,
    transfer_advice,
    worst_to,
)
from passage.units import utc_text

#: Reasons why no liquid can be moved.
NO_TANKS = "she has no tanks that can exchange liquid across the centreline"
GUESSED = (
    "liquid is not moved while her stability is an estimate: first look up what the caution names"
)
NOT_ALLOWED = (
    "no transfer is allowed on any leg: too much roll, too little time for the pump, tanks too "
    "full or too empty, or forbidden by the master or the route"
)


def not_allowed_words(problem: HeelProblem, forbidden: Collection[int]) -> str:
    """Why no transfer is allowed on any leg; ``forbidden`` are numbers of legs, from 1."""
    words = "no transfer is allowed on any leg: "
    rest = "the others have " if forbidden else ""
    if len(set(forbidden)) >= problem.n_legs and not np.any(problem.transfer_allowed):
        return f"{words}the master or the route forbids it"
    if forbidden:
        words += "the master or the route forbids some, and "
    if not np.any(problem.transfer_allowed):
        return f"{words}{rest}too much roll"
    return f"{words}{rest}too little time for the pump, or tanks too full or too empty"


@dataclass(frozen=True, kw_only=True)
class Card:
    """One way, with all that a master compares it by.

    ``roll_more_deg`` is its largest extra significant roll at any point, over fins without
    offset. ``sides_deg`` is the worst heel left to port and to
    starboard, both 0 or more. ``rest_heel_deg`` and ``rest_limit_deg`` are the worst
    heel at anchor and the owner's limit there, ``way_heel_deg`` and ``way_limit_deg`` those
    under way; ``None`` without such a leg or limit. ``gm_least_m`` counts the time the pump runs.
    ``why_not`` is the reason why the way is not possible; the numbers are then ``None``.
    ``brief`` is ``action`` in few words, ``note`` a remark on the way.
    """

    way: str
    action: str
    advised: bool = False
    priced: Priced | None = None
    why_not: str = ""
    roll_more_deg: float | None = None
    sides_deg: tuple[float, float] | None = None
    rest_heel_deg: float | None = None
    rest_limit_deg: float | None = None
    way_heel_deg: float | None = None
    way_limit_deg: float | None = None
    worst_leg: int | None = None
    worst_utc: str | None = None
    gm_least_m: float | None = None
    trim_m: float | None = None
    crew_h: float | None = None
    brief: str = ""
    transfers: tuple[TransferState, ...] = ()
    arrival: Condition | None = None
    flip: Flip | None = None
    note: str = ""

    @property
    def heading(self) -> str:
        """Name of the way; for fins alone also how much they hold."""
        one = self.priced
        if self.way != "fins" or one is None or one.moves:
            return self.way
        return {"to the limit": "fins to limit", "all": "fins hold all"}.get(one.rule, self.way)


def heel_cards(
    comparison: Comparison,
    voyage: Voyage,
    flip: Flip | None,
    no_liquid: str = NO_TANKS,
    not_allowed: str = NOT_ALLOWED,
) -> tuple[Card, ...]:
    """Cards for fins, move liquid, leave it, and ballast where fitted; the advice marked.

    ``no_liquid`` is the reason given where no liquid can be moved, ``not_allowed`` that where it
    may not be moved on any leg. Where the advice is a
    mixture of several ways it has a card of its own, the first.
    """
    problem, vessel = comparison.problem, voyage.passage.vessel
    plan = comparison.plan
    by_name = {one.name: one for one in comparison.policies}
    fins = by_name.get("fins to limit") or by_name.get("fins hold all")
    leave = by_name.get("leave it")
    cards: list[Card] = []
    liquid = tuple(p for p in problem.pairs if SEA not in p and not _ballast(comparison, p))
    water = tuple(p for p in problem.pairs if p not in liquid)
    moves = {(m.source, m.target) for m in plan.moves}

    def made(way: str, one: Priced | None) -> Card:
        if one is None:
            return Card(way=way, action="")
        if one.passage_fuel_l is None:
            one = sailed(voyage, problem, one)[0]
        return _card(comparison, voyage, way, one, flip)

    if not vessel.fins:
        cards.append(Card(way="fins", action="", why_not="no fins fitted"))
    elif not np.any(comparison.cost.fin_max > 0.0):
        words = (
            "the fins must not be offset anywhere on this passage (too slow, astern, or centred)"
        )
        cards.append(Card(way="fins", action="", why_not=words))
    else:
        cards.append(replace(made("fins", fins or leave), note=_all_words(comparison, fins)))
    for way, pairs, none in (
        ("move liquid", liquid, no_liquid),
        ("ballast", water, ""),
    ):
        if not pairs:
            if none:
                cards.append(Card(way=way, action="", why_not=none))
            continue
        if moves and moves <= set(pairs):
            cards.append(made(way, plan))
            continue
        by_search = by_name.get(POLICIES[-1])
        if by_search is not None and {(m.source, m.target) for m in by_search.moves} <= set(pairs):
            # The draws advise another way than the forecast as it is: that one is shown too.
            cards.append(made(way, by_search))
            continue
        single = best_single(problem, pairs)
        if not single:
            cards.append(Card(way=way, action="", why_not=not_allowed))
            continue
        one = simplest(problem, comparison.cost, single)
        useless = useless_addition(one, fins) or useless_addition(one, leave)
        if useless:
            cards.append(Card(way=way, action="", why_not=useless))
            continue
        cards.append(made(way, one))
    cards.append(made("leave it", leave or plan))
    if not any(card.advised for card in cards):
        cards.insert(0, made("advice", plan))
    seen: list[Card] = []
    for card in cards:
        # Of two cards with the same advice only the first stays marked.
        if card.advised and any(other.advised for other in seen):
            card = replace(card, advised=False)
        seen.append(card)
    order = ("advice", "fins", "move liquid", "leave it", "ballast")
    return tuple(sorted(seen, key=lambda card: order.index(card.way)))


def _all_words(comparison: Comparison, fins: Priced | None) -> str:
    """A remark with the cost of holding all of the list, where the fins hold it to the limit."""
    whole = next((one for one in comparison.policies if one.rule == "all"), None)
    if whole is None or fins is None or fins.rule == "all":
        return ""
    offset = litres_words(float(whole.fin_drag_l.sum()))
    return (
        f"Holding all of the heel would cost "
        f"{price_words(comparison.problem, whole.total_l)}, {offset} of it for the offset, which "
        "is what `passage plan` shows unless given --heel limit or leave"
    )


def _ballast(comparison: Comparison, pair: tuple[int, int]) -> bool:
    return any(i != SEA and comparison.problem.tanks[i].holds == "ballast" for i in pair)


def _card(comparison: Comparison, voyage: Voyage, way: str, one: Priced, flip: Flip | None) -> Card:
    problem, vessel = comparison.problem, voyage.passage.vessel
    # The tanks as drawn down by this way.
    drawn = problem if one.burn_m3 is None else replace(problem, burn_m3=one.burn_m3)
    states = transfer_states(vessel, drawn, one.moves)
    end = arrival(vessel, drawn, one.moves)
    more = None
    if one.roll_significant_deg is not None:
        diff = roll_let_through_deg(voyage, one.fins_t_m, one.roll_significant_deg)
        more = float(np.nanmax(diff)) if np.any(np.isfinite(diff)) else None
    trims = [c.trim_m for s in states for c in (s.before, s.after)] + [end.trim_m]
    trim = None if any(t is None for t in trims) else max(trims, key=lambda t: abs(t or 0.0))
    least = min([float(one.gm_m.min()), *(s.gm_pumping_m for s in states)])
    advised = (
        one.moves == comparison.plan.moves
        and one.rule == comparison.plan.rule
        and one.name == comparison.plan.name
    )
    time = (voyage.way.time_s if one.time_s is None else one.time_s)[one.worst]
    stays = voyage.passage.track.length_m == 0.0
    at_rest, under_way = _worst_of(one, stays), _worst_of(one, ~stays)
    return Card(
        way=way,
        action=_action(comparison, one),
        brief=_brief(comparison, one),
        advised=advised,
        priced=one,
        roll_more_deg=more,
        sides_deg=worst_to(one.heel_deg),
        rest_heel_deg=at_rest[0],
        rest_limit_deg=at_rest[1],
        way_heel_deg=under_way[0],
        way_limit_deg=under_way[1],
        worst_leg=int(problem.leg_of[one.worst]) + 1,
        worst_utc=utc_text(float(time)) if np.isfinite(time) else None,
        gm_least_m=least,
        trim_m=trim,
        crew_h=_crew_h(voyage, one),
        transfers=states,
        arrival=end,
        flip=flip if advised else None,
    )


def _worst_of(one: Priced, where: npt.NDArray[np.bool_]) -> tuple[float | None, float | None]:
    """Worst heel of some points, with its side, and the owner's limit there."""
    if not np.any(where):
        return None, None
    heel = one.heel_deg[where]
    limit = float(np.min(one.limit_deg[where]))
    worst = float(heel[np.argmax(np.abs(heel))])
    return worst, limit if np.isfinite(limit) else None


def _crew_h(voyage: Voyage, one: Priced) -> float:
    transfer = voyage.passage.vessel.transfer
    if transfer is None:
        return 0.0
    return len(one.moves) * transfer.crew_minutes_per_transfer / 60.0


def _action(comparison: Comparison, one: Priced) -> str:
    """The way's action in a line."""
    problem = comparison.problem
    words = [order_words(problem, move) for move in one.moves]
    held = np.abs(one.fins_t_m) > 0.0
    hours = float(one.hours[held].sum())
    if hours > 0.0:
        worst = sides_words(one.heel_deg)
        if one.rule == "all":
            words.append(f"fins hold all they can for {hours:.1f} h")
        else:
            words.append(f"fins hold {'the rest' if one.moves else 'it'} for {hours:.1f} h")
        if worst == "upright":
            words.append("she is then upright")
        else:
            words[-1] += f", leaving at most {worst}"
    elif not one.moves:
        words.append("nothing; she leans up to " + sides_words(one.heel_deg))
    return "; ".join(words)


def _brief(comparison: Comparison, one: Priced) -> str:
    """The way's action in few words."""
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
