"""The input that changes the advice soonest, and the value at which it does."""

from __future__ import annotations

import time
from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np

from passage.planning.heel.asked import HOLDS_L, Asked, Verdict
from passage.planning.heel.model import Floats, HeelProblem
from passage.planning.heel.options import Comparison
from passage.planning.heel.sensitivity import (
    Change,
    change,
    same_moves,
    with_fin_drag,
    with_gm,
    with_list,
    with_transfer_price,
    with_wind,
)
from passage.planning.heel.words import litres_words, side_words

#: Changes tried beyond the usual doubt of an input, as multiples of it.
_FARTHER = (2.0, 4.0)
#: Relative accuracy to which the value is found.
_CLOSE = 0.03

_Make = Callable[[float], HeelProblem]
_Words = Callable[[float], str]


@dataclass(frozen=True, kw_only=True)
class Flip:
    """The input that changes the advice soonest, and where.

    ``steps`` is the change as a multiple of the usual doubt (a quarter of the wind, half a
    degree of list, a tenth of GM, 15 % of fin drag, crew cost doubled). With ``amounts``
    the transfers hold up to there only if their amounts are chosen again.
    """

    words: str
    then: str
    steps: float
    amounts: bool = False

    @property
    def lead(self) -> str:
        """The beginning of the sentence that ``words`` complete."""
        return (
            "The same transfers remain best, in other amounts, unless"
            if self.amounts
            else "Holds unless"
        )


@dataclass
class _Bracket:
    """One input in one direction: the advice holds up to ``low`` steps, changes at ``high``.

    ``high`` is ``None`` where not known.
    """

    name: str
    make: _Make
    words: _Words
    sign: float
    low: float = 0.0
    high: float | None = None
    amounts: bool = False
    then: str = ""

    def learn(self, size: float, verdict: Verdict) -> None:
        """Record the verdict at a step of this size."""
        self.amounts |= verdict == "other amounts"
        if verdict == "other advice":
            self.high = size if self.high is None else min(self.high, size)
        elif self.high is None or size < self.high:
            self.low = max(self.low, size)


def soonest_flip(
    comparison: Comparison,
    changes: Sequence[Change],
    wind_kn: Floats | None = None,
    *,
    question: HeelProblem | None = None,
    seconds: float = 5.0,
) -> Flip | None:
    """The input that changes the advice after the least of its usual doubt.

    Verdicts in ``changes`` are used; an input that holds at its usual doubt is taken to
    hold below it. ``question`` is the problem that ``changes`` and ``wind_kn`` belong to,
    if not that of the comparison: the same passage on other points.
    """
    problem = question or comparison.problem
    moves = same_moves(comparison.problem, problem, comparison.plan.moves)
    until = time.process_time() + seconds
    brackets = []
    for name, make, words in _inputs(problem, wind_kn):
        for sign in (1.0, -1.0):
            one = _Bracket(name, make, words, sign)
            for known in sorted(changes, key=lambda row: abs(row.step)):
                if known.name == name and known.step * sign > 0.0:
                    one.learn(abs(known.step), known.verdict)
            brackets.append(one)

    def ask(one: _Bracket, size: float) -> None:
        one.learn(size, Asked(one.make(one.sign * size)).answer(moves).verdict)

    for size in _FARTHER:
        if any(one.high is not None and one.high <= size for one in brackets):
            break
        for one in brackets:
            if one.low < size and time.process_time() < until:
                ask(one, size)
    later = [one for one in changes if one.name == "departure" and one.verdict == "other advice"]
    while time.process_time() < until:
        known_highs = [one.high for one in brackets if one.high is not None]
        if not known_highs:
            break
        soonest = min([*known_highs, *([1.0] if later else [])])
        open_ = [
            one for one in brackets if one.high is not None and one.low < soonest * (1.0 - _CLOSE)
        ]
        if not open_:
            break
        for one in open_:
            ask(one, 0.5 * (one.low + min(one.high or soonest, soonest)))
    for one in brackets:
        shown = _shown_price(comparison, one.sign) if one.name == "crew" else None
        if shown is not None and (one.high is None or shown[0] <= one.high):
            # The price of a transfer is computed exactly from the ways that are shown.
            one.high, one.then, one.amounts = (*shown, False)
    found = [one for one in brackets if one.high is not None]
    best = min(found, key=lambda one: one.high or 0.0, default=None)
    if later and (best is None or (best.high or 0.0) >= 1.0):
        return Flip(words=later[0].what.replace("leaving", "she leaves"), then=later[0].words,
                    steps=1.0)  # fmt: skip
    if best is None or best.high is None:
        return None
    step = best.sign * best.high
    then = best.then or change("", Asked(best.make(step)), moves).words
    return Flip(words=best.words(step), then=then, steps=best.high, amounts=best.amounts)


def _shown_price(comparison: Comparison, sign: float) -> tuple[float, str] | None:
    """Doublings of the price of a transfer at which another shown way is cheaper.

    ``sign`` is 1 for a higher price, -1 for a lower. With the other way in words; None where
    no way that keeps the limit as well has fewer (or more) transfers.
    """
    problem, plan = comparison.problem, comparison.plan
    fixed, best = problem.transfer_fixed_l, None
    for other in comparison.policies:
        fewer = len(plan.moves) - len(other.moves)
        more_l = other.total_l - plan.total_l
        leans = other.over_limit_charge_l > plan.over_limit_charge_l + HOLDS_L
        if leans or fewer * sign <= 0.0 or more_l < 0.0 or fixed + more_l / fewer <= 0.0:
            continue
        at = fixed + more_l / fewer
        size = sign * float(np.log2(at / fixed))
        if best is None or size < best[0]:
            litres = other.total_l + len(other.moves) * (at - fixed)
            best = (size, f"{other.name}, {litres_words(litres)}")
    return best


def _beyond(list_deg: float, step: float) -> str:
    """``less than 1.2 deg to starboard``: a list beyond a value."""
    if abs(list_deg) < 0.05:
        return f"to {'starboard' if step > 0.0 else 'port'}"
    return f"{'more' if list_deg * step > 0.0 else 'less'} than {side_words(list_deg)}"


def _windiest(problem: HeelProblem) -> int:
    """The point whose wind is named, among those with nearly the largest wind moment.

    It is the one at which she leans most with nothing done, so that a mirrored passage
    names the same leg.
    """
    wind, heel = np.abs(problem.wind_moment_t_m), np.abs(problem.heel_deg(problem.moment_t_m))
    strong = wind >= (1.0 - _CLOSE) * wind.max()
    return int(np.argmax(strong & (heel >= (1.0 - _CLOSE) * heel[strong].max())))


def _inputs(problem: HeelProblem, wind_kn: Floats | None) -> list[tuple[str, _Make, _Words]]:
    """Each input by name: its problem at steps of its doubt, and words for it."""
    out: list[tuple[str, _Make, _Words]] = []
    wind = problem.wind_moment_t_m
    if np.any(wind != 0.0):
        top = _windiest(problem)
        side = "port" if wind[top] > 0.0 else "starboard"
        leg = int(problem.leg_of[top]) + 1
        speed = None if wind_kn is None else float(wind_kn[top])

        def wind_words(step: float) -> str:
            more = "above" if step > 0.0 else "below"
            factor = max(1.0 + 0.25 * step, 0.0)
            if factor == 0.0:
                return "there is no wind"
            if speed is not None and np.isfinite(speed):
                # Wind heel varies as the square of the wind speed.
                return (
                    f"the wind is {more} {speed * np.sqrt(factor):.0f} kn from {side} on leg {leg} "
                    f"({speed:.0f} kn forecast)"
                )
            return f"the wind heel is {more} {factor:.2f} times the forecast's"

        out.append(("wind", lambda s: with_wind(problem, max(1.0 + 0.25 * s, 0.0)), wind_words))
    now = float(np.degrees(np.arctan2(problem.list_moment_t_m, problem.stiffness_t_m[0])))
    out.append(
        (
            "list",
            lambda s: with_list(problem, 0.5 * s),
            lambda s: (
                f"the list at departure is {_beyond(now + 0.5 * s, s)} ({side_words(now)} given)"
            ),
        )
    )
    out.append(
        (
            "GM",
            lambda s: with_gm(problem, 1.0 + 0.1 * s),
            lambda s: f"GM is {abs(10.0 * s):.0f} % {'larger' if s > 0.0 else 'smaller'}",
        )
    )
    if np.any(problem.fin_moment_max_t_m > 0.0):
        out.append(
            (
                "fins",
                lambda s: with_fin_drag(problem, 1.0 + 0.15 * s),
                lambda s: f"the fins drag {abs(15.0 * s):.0f} % {'more' if s > 0.0 else 'less'}",
            )
        )
    if problem.transfer_fixed_l > 0.0:
        price = problem.fuel_price_per_l
        unit = f" {problem.currency}" if price else " l"
        fixed = problem.transfer_fixed_l * (price or 1.0)
        out.append(
            (
                "crew",
                lambda s: with_transfer_price(problem, 2.0**s),
                lambda s: (
                    f"a transfer costs {'more' if s > 0.0 else 'less'} than "
                    f"{fixed * 2.0**s:.0f}{unit} of crew time ({fixed:.0f}{unit} given)"
                ),
            )
        )
    return out
