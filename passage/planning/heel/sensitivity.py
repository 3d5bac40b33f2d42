"""What would change the advice: the problem solved again with one input changed.

Each changed problem gets a new best sequence, not the old one at new prices: see `asked`.
"""

from __future__ import annotations

import time
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from passage.planning.heel.asked import HOLDS_L, Asked, Verdict, verdict_of
from passage.planning.heel.model import HeelProblem
from passage.planning.heel.moves import Move
from passage.planning.heel.words import litres_words, short_orders

#: Process time for full searches of changed problems, unless given. [s]
_SEARCH_S = 5.0


@dataclass(frozen=True, kw_only=True)
class Change:
    """One changed input, and how the advice compares then.

    ``best_l`` is for the best sequence found then, with its ``moves``; ``kept_l`` for the
    present moves exactly, ``adjusted_l`` for the same transfers with their amounts
    adjusted; ``None`` where a rule then forbids them. All have the best fin use and include
    the charge for heel over the owner's limit; ``best_charge_l`` and ``kept_charge_l`` are
    that charge, which nobody pays. ``open_l`` is the most that a sequence not tried could
    still save.

    ``name`` is the changed input and ``step`` the change as a multiple of its usual doubt,
    0 where that has no multiple.
    """

    what: str
    best_l: float
    moves: tuple[Move, ...]
    kept_l: float | None
    adjusted_l: float | None
    best_charge_l: float = 0.0
    kept_charge_l: float = 0.0
    words: str = ""
    open_l: float = 0.0
    name: str = ""
    step: float = 0.0

    @property
    def best_paid_l(self) -> float:
        """The new optimum without the charge for heel over the limit."""
        return self.best_l - self.best_charge_l

    @property
    def kept_paid_l(self) -> float | None:
        """The present moves without the charge for heel over the limit."""
        return None if self.kept_l is None else self.kept_l - self.kept_charge_l

    @property
    def kept_leans_more(self) -> bool:
        """Whether keeping to the advice leaves more heel over the owner's limit."""
        return self.kept_l is not None and self.kept_charge_l > self.best_charge_l + HOLDS_L

    @property
    def verdict(self) -> Verdict:
        """Whether the advice holds, holds with other amounts, or changes."""
        return verdict_of(self.best_l, self.kept_l, self.adjusted_l)

    @property
    def regret_l(self) -> float | None:
        """Extra cost of keeping to the present advice; None where a rule forbids it."""
        return None if self.kept_l is None else max(self.kept_l - self.best_l, 0.0)


def with_list(problem: HeelProblem, more_deg: float) -> HeelProblem:
    """The same passage with another list at departure."""
    stiffness = float(problem.stiffness_t_m[0])
    now = np.degrees(np.arctan2(problem.list_moment_t_m, stiffness))
    moment = stiffness * float(np.tan(np.radians(now + more_deg)))
    return replace(problem, list_moment_t_m=moment)


def with_gm(problem: HeelProblem, factor: float) -> HeelProblem:
    """The same observed list with another GM: its moment is proportional to GM."""
    return replace(
        problem,
        stiffness_t_m=problem.stiffness_t_m * factor,
        list_moment_t_m=problem.list_moment_t_m * factor,
    )


def with_transfer_price(problem: HeelProblem, factor: float) -> HeelProblem:
    """A higher or lower price of setting up a transfer, in litres."""
    return replace(problem, transfer_fixed_l=problem.transfer_fixed_l * factor)


def with_wind(problem: HeelProblem, factor: float) -> HeelProblem:
    """Wind heel scaled."""
    return replace(problem, wind_moment_t_m=problem.wind_moment_t_m * factor)


def with_fin_drag(problem: HeelProblem, factor: float) -> HeelProblem:
    """Drag of held moments scaled."""
    offset = problem.offset_price_l
    return replace(
        problem,
        fin_l_per_moment2=problem.fin_l_per_moment2 * factor,
        offset_price_l=None if offset is None else offset * factor,
    )


@dataclass(frozen=True)
class Variation:
    """A changed problem: in words, the input, its change in usual doubts, and the problem."""

    what: str
    problem: HeelProblem
    name: str = ""
    step: float = 0.0


def variations(problem: HeelProblem) -> tuple[Variation, ...]:
    """The changes that are tried.

    A higher fuel price makes crew time cheaper in litres and changes nothing else, since
    all other prices are in litres.
    """
    out = []
    if np.any(problem.wind_moment_t_m != 0.0):
        out += [
            Variation("wind heel 25 % larger", with_wind(problem, 1.25), "wind", 1.0),
            Variation("wind heel 25 % smaller", with_wind(problem, 0.75), "wind", -1.0),
            Variation("no wind at all", with_wind(problem, 0.0), "wind", -4.0),
        ]
    out += [
        Variation("list 0.5 deg more to starboard", with_list(problem, 0.5), "list", 1.0),
        Variation("list 0.5 deg more to port", with_list(problem, -0.5), "list", -1.0),
        Variation("GM 10 % larger", with_gm(problem, 1.1), "GM", 1.0),
        Variation("GM 10 % smaller", with_gm(problem, 0.9), "GM", -1.0),
    ]
    if np.any(problem.fin_moment_max_t_m > 0.0):
        out += [
            Variation("fin drag 15 % larger", with_fin_drag(problem, 1.15), "fins", 1.0),
            Variation("fin drag 15 % smaller", with_fin_drag(problem, 0.85), "fins", -1.0),
        ]

    def crew(what: str, factor: float) -> Variation:
        step = float(np.log2(factor)) if factor > 0.0 else 0.0
        return Variation(what, with_transfer_price(problem, factor), "crew", step)

    if problem.fuel_price_per_l:
        out += [crew("fuel price 50 % higher", 1.0 / 1.5), crew("fuel price a third lower", 1.5)]
    out += [
        crew("crew cost doubled", 2.0),
        crew("crew cost halved", 0.5),
        crew("crew time free", 0.0),
    ]
    return tuple(out)


def sensitivities(
    problem: HeelProblem,
    moves: tuple[Move, ...],
    others: Sequence[Variation] = (),
    *,
    until: float | None = None,
    asked: dict[str, Asked] | None = None,
) -> tuple[Change, ...]:
    """Solve again for each variation and for ``others``.

    ``asked`` keeps the changed problems, to be used again for other moves of the same
    problem. ``until`` ends full searches of new sequences; it is in process time, so that a
    busy machine makes no fewer searches. None is five seconds from now.
    """
    until = time.thread_time() + _SEARCH_S if until is None else until
    out = []
    asked = {} if asked is None else asked
    for one in (*variations(problem), *others):
        question = asked.setdefault(one.what, Asked(one.problem))
        kept = moves if one.problem is problem else same_moves(problem, one.problem, moves)
        made = change(one.what, question, kept, until=until, name=one.name, step=one.step)
        out.append(replace(made, moves=same_moves(one.problem, problem, made.moves)))
    return tuple(out)


def same_moves(
    problem: HeelProblem, other: HeelProblem, moves: tuple[Move, ...]
) -> tuple[Move, ...]:
    """The moves at the same hours of the same legs, on the points of another problem."""
    if problem.n_points == other.n_points and np.array_equal(problem.leg_of, other.leg_of):
        return moves
    out = []
    for move in moves:
        leg = problem.leg_of[move.point]
        into = problem.hours[: move.point][problem.leg_of[: move.point] == leg].sum()
        here = np.flatnonzero(other.leg_of == leg)
        begin = np.cumsum(other.hours[here]) - other.hours[here]
        out.append(replace(move, point=int(here[np.argmin(np.abs(begin - into))])))
    return tuple(out)


def change(
    what: str,
    asked: Asked,
    moves: tuple[Move, ...],
    *,
    until: float = 0.0,
    name: str = "",
    step: float = 0.0,
) -> Change:
    """The present moves in a changed problem, compared with the best found there."""
    found = asked.answer(moves, until)
    return Change(
        what=what,
        best_l=found.best_l,
        moves=found.moves,
        kept_l=found.kept_l,
        adjusted_l=found.adjusted_l,
        best_charge_l=found.best_charge_l,
        kept_charge_l=found.kept_charge_l,
        words=_advice(asked, found.moves, found.best_l - found.best_charge_l),
        # Nobody pays the charge for heel over the limit, nor saves it.
        open_l=min(found.open_l, max(found.best_l - found.best_charge_l, 0.0)),
        name=name,
        step=step,
    )


def _advice(asked: Asked, moves: tuple[Move, ...], litres: float) -> str:
    if moves:
        what = short_orders(asked.problem, moves)
    else:
        held = np.abs(asked.cost.best_split(asked.problem.moment_t_m).fins_t_m) > 0.05
        what = "leave the tanks alone" + (", fins hold it" if np.any(held) else "")
    return f"{what}, {litres_words(litres)}"
