"""What would change the advice: the question asked again with one thing different."""

from __future__ import annotations

import time
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from typing import Literal

import numpy as np

from passage.planning.heel.leg_cost import LegCost
from passage.planning.heel.model import Floats, HeelProblem, stability
from passage.planning.heel.moves import Move, moved_by, price_sequence
from passage.planning.heel.options import Comparison
from passage.planning.heel.rules import broken_rules
from passage.planning.heel.single import best_single
from passage.planning.heel.words import litres_words, order_words, side_words

#: The advice holds if keeping to it costs no more than this over the new best.
HOLDS_L = 1.0
HOLDS_SHARE = 0.02
#: Amounts tried for each transfer of the advice when they are made to suit.
_AMOUNTS = 13
#: How far each input is followed in search of a flip, in steps of its band.
_STEPS = (0.25, 0.5, 1.0, 2.0, 4.0)

_Make = Callable[[float], HeelProblem]
_Words = Callable[[float], str]
Verdict = Literal["holds", "other amounts", "other advice"]


@dataclass(frozen=True, kw_only=True)
class Change:
    """One thing changed and what the advice is worth then.

    ``best_l`` is the best of nothing moved, one transfer, and the advised ones with
    amounts made to suit, with its ``moves``; ``kept_l`` the present moves to the last
    litre and ``adjusted_l`` the same transfers with amounts made to suit, ``None``
    where a rule forbids them then. All with the fins at their best, and all with the
    charge for heel over the owner's limit, by which they are weighed; ``best_charge_l``
    and ``kept_charge_l`` are that charge, which nobody pays.
    """

    what: str
    best_l: float
    moves: tuple[Move, ...]
    kept_l: float | None
    adjusted_l: float | None
    best_charge_l: float = 0.0
    kept_charge_l: float = 0.0
    words: str = ""

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
        """Whether the advice stands, stands with other amounts, or falls."""
        near = self.best_l + max(HOLDS_L, HOLDS_SHARE * abs(self.best_l))
        if self.kept_l is not None and self.kept_l <= near:
            return "holds"
        if self.adjusted_l is not None and self.adjusted_l <= near:
            return "other amounts"
        return "other advice"

    @property
    def regret_l(self) -> float | None:
        """What keeping to the present advice would cost too much."""
        return None if self.kept_l is None else max(self.kept_l - self.best_l, 0.0)


@dataclass(frozen=True, kw_only=True)
class Flip:
    """The input that changes the advice soonest, and where.

    ``steps`` counts in its usual doubt (a quarter of the wind, half a degree of list, a
    tenth of GM, 15 % of fin drag, crew twice as dear).
    """

    words: str
    then: str
    steps: float


def with_list(problem: HeelProblem, more_deg: float) -> HeelProblem:
    """The same passage with another list at departure."""
    stiffness = float(problem.stiffness_t_m[0])
    now = np.degrees(np.arctan2(problem.list_moment_t_m, stiffness))
    moment = stiffness * float(np.tan(np.radians(now + more_deg)))
    return replace(problem, list_moment_t_m=moment)


def with_gm(problem: HeelProblem, factor: float) -> HeelProblem:
    """The same observed list with another GM: its moment goes with GM."""
    return replace(
        problem,
        stiffness_t_m=problem.stiffness_t_m * factor,
        list_moment_t_m=problem.list_moment_t_m * factor,
    )


def with_transfer_price(problem: HeelProblem, factor: float) -> HeelProblem:
    """Setting up a transfer dearer or cheaper, in litres."""
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


def variations(problem: HeelProblem) -> tuple[tuple[str, HeelProblem], ...]:
    """The changes asked about, each with its problem.

    Dearer fuel makes crew time cheaper in litres and leaves the rest as it is, since
    all other prices are litres already.
    """
    out = []
    if np.any(problem.wind_moment_t_m != 0.0):
        out += [
            ("wind heel 25 % larger", with_wind(problem, 1.25)),
            ("wind heel 25 % smaller", with_wind(problem, 0.75)),
            ("no wind at all", with_wind(problem, 0.0)),
        ]
    out += [
        ("list 0.5° more to starboard", with_list(problem, 0.5)),
        ("list 0.5° more to port", with_list(problem, -0.5)),
        ("GM 10 % larger", with_gm(problem, 1.1)),
        ("GM 10 % smaller", with_gm(problem, 0.9)),
    ]
    if np.any(problem.fin_moment_max_t_m > 0.0):
        out += [
            ("fin drag 15 % larger", with_fin_drag(problem, 1.15)),
            ("fin drag 15 % smaller", with_fin_drag(problem, 0.85)),
        ]
    if problem.fuel_price_per_l:
        out += [
            ("fuel half as dear again", with_transfer_price(problem, 1.0 / 1.5)),
            ("fuel a third cheaper", with_transfer_price(problem, 1.5)),
        ]
    out += [
        ("crew twice as dear", with_transfer_price(problem, 2.0)),
        ("crew half as dear", with_transfer_price(problem, 0.5)),
        ("crew at no price", with_transfer_price(problem, 0.0)),
    ]
    return tuple(out)


def sensitivities(
    problem: HeelProblem,
    moves: tuple[Move, ...],
    others: Sequence[tuple[str, HeelProblem]] = (),
    *,
    seconds: float = 5.0,
) -> tuple[Change, ...]:
    """Ask again under each variation and under ``others``.

    ``seconds`` is for all of them, of computing time, so that a busy machine asks no
    fewer questions.
    """
    until = time.process_time() + seconds
    out = []
    for what, changed in (*variations(problem), *others):
        out.append(change(what, changed, moves))
        if time.process_time() > until:
            break
    return tuple(out)


def change(what: str, problem: HeelProblem, moves: tuple[Move, ...]) -> Change:
    """What present moves are worth in another problem, against the best found there."""
    rows: list[tuple[float, float, tuple[Move, ...]]] = [(*_weighed(problem, ()), ())]
    kept = adjusted = None
    kept_charge = 0.0
    # Another departure may have other points: the moves then stay before their legs.
    if all(m.point < problem.n_points for m in moves) and not broken_rules(problem, moves):
        kept, kept_charge = _weighed(problem, moves)
        rows.append((kept, kept_charge, moves))
    if moves:
        other = adjusted_moves(problem, moves)
        if other is not None:
            adjusted, charge = _weighed(problem, other)
            rows.append((adjusted, charge, other))
    single = best_single(problem)
    if single:
        rows.append((*_weighed(problem, single), single))
    best, charge, best_moves = min(rows, key=lambda row: row[0])
    return Change(
        what=what,
        best_l=best,
        moves=best_moves,
        kept_l=kept,
        adjusted_l=adjusted,
        best_charge_l=charge,
        kept_charge_l=kept_charge,
        words=_advice(problem, best_moves, best - charge),
    )


def _weighed(problem: HeelProblem, moves: tuple[Move, ...]) -> tuple[float, float]:
    """Price with the charge for heel over the limit, and that charge."""
    stiffness = stability(problem, moved_by(problem, moves))[1]
    cost = LegCost.of(replace(problem, limit_stiffness_t_m=stiffness))
    total, split = price_sequence(problem, cost, moves)
    return total, float((split.over_limit_t_m * cost.over_l_per_t_m).sum())


def _advice(problem: HeelProblem, moves: tuple[Move, ...], litres: float) -> str:
    if moves:
        what = "; ".join(order_words(problem, move) for move in moves)
    else:
        cost = LegCost.of(replace(problem, limit_stiffness_t_m=problem.stiffness_t_m))
        held = np.abs(cost.best_split(problem.moment_t_m).fins_t_m) > 0.05
        what = "leave the tanks alone" + (", fins hold it" if np.any(held) else "")
    return f"{what}, {litres_words(litres)}"


def adjusted_moves(problem: HeelProblem, moves: tuple[Move, ...]) -> tuple[Move, ...] | None:
    """The same transfers with amounts that suit better, or None if none can be made."""
    if any(
        move.point >= problem.n_points or (move.source, move.target) not in problem.pairs
        for move in moves
    ):
        return None
    best: tuple[Move, ...] | None = None if broken_rules(problem, moves) else moves
    best_l = np.inf if best is None else _weighed(problem, moves)[0]
    now = moves
    for spread in (1.0, 0.2):
        for at, move in enumerate(now):
            for factor in np.linspace(max(1.0 - spread, 0.0), 1.0 + spread, _AMOUNTS):
                amount = max(now[at].amount_m3 * float(factor), problem.smallest_transfer_m3)
                other = (*now[:at], replace(move, amount_m3=amount), *now[at + 1 :])
                litres = _weighed(problem, other)[0]
                if litres < best_l - 1e-6 and not broken_rules(problem, other):
                    best, best_l = other, litres
            now = best or now
    return best


def soonest_flip(
    comparison: Comparison,
    changes: Sequence[Change],
    wind_kn: Floats | None = None,
    *,
    seconds: float = 5.0,
) -> Flip | None:
    """The input that changes the advice after the least of its usual doubt."""
    problem, moves = comparison.problem, comparison.plan.moves
    until = time.process_time() + seconds
    limits: list[tuple[float, float, float, _Make, _Words]] = []
    for make, words, lowest in _inputs(problem, wind_kn):
        for sign in (1.0, -1.0):
            held = 0.0
            for step in _STEPS:
                far = sign * step
                if far < lowest or time.process_time() > until:
                    break
                if limits and step > limits[0][0]:
                    break
                if _flips(make(far), moves):
                    limits.append((step, sign, sign * held, make, words))
                    limits.sort(key=lambda row: row[0])
                    break
                held = step
    if not limits:
        return None
    best: tuple[float, Flip] | None = None
    for step, sign, held, make, words in limits:
        if step > limits[0][0]:
            break
        low, high = held, sign * step
        for _ in range(5):
            middle = 0.5 * (low + high)
            low, high = (low, middle) if _flips(make(middle), moves) else (middle, high)
            if time.process_time() > until + seconds:
                break
        then = change("", make(high), moves).words
        if best is None or abs(high) < best[0]:
            best = (abs(high), Flip(words=words(high), then=then, steps=abs(high)))
    return None if best is None else best[1]


def _flips(problem: HeelProblem, moves: tuple[Move, ...]) -> bool:
    return change("", problem, moves).verdict == "other advice"


def _beyond(list_deg: float, step: float) -> str:
    """``less than 1.2° to starboard``: a list on the far side of a value."""
    if abs(list_deg) < 0.05:
        return f"to {'starboard' if step > 0.0 else 'port'}"
    return f"{'more' if list_deg * step > 0.0 else 'less'} than {side_words(list_deg)}"


def _inputs(problem: HeelProblem, wind_kn: Floats | None) -> list[tuple[_Make, _Words, float]]:
    """Each input as a function of steps of its doubt, the words for it, and its least step."""
    out: list[tuple[_Make, _Words, float]] = []
    wind = problem.wind_moment_t_m
    if np.any(wind != 0.0):
        top = int(np.argmax(np.abs(wind)))
        side = "port" if wind[top] > 0.0 else "starboard"
        leg = int(problem.leg_of[top]) + 1
        speed = None if wind_kn is None else float(wind_kn[top])

        def wind_words(step: float) -> str:
            more = "above" if step > 0.0 else "below"
            factor = max(1.0 + 0.25 * step, 0.0)
            if speed is not None and np.isfinite(speed):
                # Wind heel goes with the square of the wind.
                return (
                    f"the wind is {more} {speed * np.sqrt(factor):.0f} kn from {side} on leg {leg} "
                    f"({speed:.0f} kn forecast)"
                )
            return f"the wind heel is {more} {factor:.2f} times the forecast's"

        out.append((lambda s: with_wind(problem, max(1.0 + 0.25 * s, 0.0)), wind_words, -4.0))
    now = float(np.degrees(np.arctan2(problem.list_moment_t_m, problem.stiffness_t_m[0])))
    out.append(
        (
            lambda s: with_list(problem, 0.5 * s),
            lambda s: (
                f"the list at departure is {_beyond(now + 0.5 * s, s)} ({side_words(now)} given)"
            ),
            -4.0,
        )
    )
    out.append(
        (
            lambda s: with_gm(problem, 1.0 + 0.1 * s),
            lambda s: f"GM is {abs(10.0 * s):.0f} % {'larger' if s > 0.0 else 'smaller'}",
            -4.0,
        )
    )
    if np.any(problem.fin_moment_max_t_m > 0.0):
        out.append(
            (
                lambda s: with_fin_drag(problem, 1.0 + 0.15 * s),
                lambda s: f"the fins drag {abs(15.0 * s):.0f} % {'more' if s > 0.0 else 'less'}",
                -4.0,
            )
        )
    if problem.transfer_fixed_l > 0.0:
        price = problem.fuel_price_per_l
        unit = f" {problem.currency}" if price else " l"
        fixed = problem.transfer_fixed_l * (price or 1.0)
        out.append(
            (
                lambda s: with_transfer_price(problem, 2.0**s),
                lambda s: (
                    f"a transfer costs {'more' if s > 0.0 else 'less'} than "
                    f"{fixed * 2.0**s:.0f}{unit} of crew time ({fixed:.0f}{unit} given)"
                ),
                -4.0,
            )
        )
    return out
