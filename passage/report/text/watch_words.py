"""A leg of the watch sheet in words: fins, what to expect, what to do if it is more."""

from __future__ import annotations

import math
from collections.abc import Sequence

from passage.planning.plan.watch import SHORT_RATIO, SLOW_RATIO, WatchLeg
from passage.report.text.verdict import number

#: Time at a limit above which more sensitivity is of no use. [%]
_BUSY = 10.0
#: Sensitivity within this of the vessel file's is left as set. [%]
_AS_SET = 10.0
#: Waves met at longer intervals than this run with her. [s]
_WITH_HER_S = 60.0
#: A smaller gain in roll is not mentioned. [%]
_WORTH_SAYING = 3.0


def sea_kind(leg: WatchLeg, natural_s: float) -> str:
    """``near``, ``slow`` or ``short`` waves against her roll period; ``none`` where unknown."""
    if leg.encounter_period_s is None:
        return "none"
    ratio = leg.encounter_period_s / natural_s
    return "slow" if ratio > SLOW_RATIO else "short" if ratio < SHORT_RATIO else "near"


def waves_words(leg: WatchLeg, natural_s: float) -> str:
    """How she meets the waves: ``waves met every 8.6 s, near her roll period of 7.8 s``."""
    kind = sea_kind(leg, natural_s)
    if kind == "none" or leg.encounter_period_s is None:
        return "the sea is not known"
    if leg.encounter_period_s > _WITH_HER_S:
        return "waves that run with her"
    every = f"met every {number(leg.encounter_period_s, 1)} s"
    return {
        "near": f"waves {every}, near her roll period of {number(natural_s, 1)} s",
        "slow": f"slow waves, {every}",
        "short": f"short waves, {every}",
    }[kind]


def lean_words(leg: WatchLeg) -> str:
    """What the fins should respond to, and how strongly, in words and numbers."""
    if leg.fin_use == "centred":
        return "Fins centred."
    if leg.fin_use == "none":
        return "No fins."
    rate = leg.rate_percent
    if rate is None:
        return f"Fins {leg.fin_use}, weighting and sensitivity as set."
    lean = (
        "favour roll rate" if rate >= 75.0
        else "favour roll rate somewhat" if rate >= 55.0
        else "rate and angle alike" if rate >= 45.0
        else "favour roll angle"
    )  # fmt: skip
    text = f"Fins {leg.fin_use}: {lean} (rate {rate:.0f} : angle {100.0 - rate:.0f})"
    text = f"{text}, {sensitivity_words(leg)}"
    if leg.roll_advised_deg is not None and leg.roll_as_set_deg is not None:
        # As a share: both are for the leg's mean sea, unlike the roll on the sheet.
        less = 100.0 * (1.0 - leg.roll_advised_deg / max(leg.roll_as_set_deg, 1e-9))
        if less >= _WORTH_SAYING:
            text += f"; that rolls {number(less)} % less than as set"
    return f"{text}."


def sensitivity_words(leg: WatchLeg) -> str:
    """Sensitivity against the one set, and why not more."""
    if leg.sensitivity_too_high:
        return "sensitivity down to 50 %: more makes small jerky rolls, not less roll"
    size = leg.sensitivity_percent
    if size is None or abs(size - 100.0) <= _AS_SET:
        return "sensitivity as set"
    return f"sensitivity {'up' if size > 100.0 else 'down'} to {size:.0f} % of what is set"


def stops_words(leg: WatchLeg) -> str:
    """A remark where the fins are out of angle or cannot turn faster; else empty."""
    if leg.at_stops_percent is None or leg.at_stops_percent <= _BUSY or leg.fin_use == "centred":
        return ""
    if leg.mostly_slow:
        return (
            f"At a limit {leg.at_stops_percent:.0f} % of the time, mostly turning as fast as they "
            "can: less sensitivity or another heading helps."
        )
    return (
        f"At a limit {leg.at_stops_percent:.0f} % of the time, mostly out of angle: more speed or "
        "another heading helps, more sensitivity does not."
    )


def then_words(leg: WatchLeg, natural_s: float) -> str:
    """What to do when a roll goes beyond what the forecast explains, and beyond the limit.

    Below the owner's limit nothing need be done. The limit is of the significant roll, so
    a single roll of that size occurs well before the limit is reached.
    """
    beyond = leg.roll_beyond_deg
    if beyond is None:
        return "No roll is known: trust what you see."
    if beyond < 1.0 and leg.roll_limit_deg is None:
        return ""
    limit = math.ceil(max(beyond, leg.roll_limit_deg or 0.0))
    if leg.stay:
        return (
            f"If a roll goes beyond {limit} deg: call the master; the anchorage is not as forecast."
        )
    first_act = {
        "near": f"alter course or speed, away from waves met near {number(natural_s, 0)} s",
        "slow": "slow down, or bring the sea off the quarter",
        "short": "slow down",
        "none": "slow down",
    }[sea_kind(leg, natural_s)]
    return f"If a roll goes beyond {limit} deg: call the master and {first_act}."


def side_words(deg: float) -> str:
    """``0.4 stbd``, ``1.2 port`` or ``upright``."""
    if abs(deg) < 0.05:
        return "upright"
    return f"{abs(deg):.1f} {'stbd' if deg > 0.0 else 'port'}"


def span_words(low: float | None, high: float | None) -> str:
    """Heel from one extreme to the other; one value where both are alike."""
    if low is None or high is None:
        return "-"
    if abs(high - low) < 0.1:
        return side_words(0.5 * (low + high))
    return f"{side_words(low)} to {side_words(high)}"


def offset_words(leg: WatchLeg) -> str:
    """Fin offset to expect: degrees, and the side to which it heels her."""
    low, high = leg.offset_low_deg, leg.offset_high_deg
    if low is None or high is None or max(abs(low), abs(high)) < 0.05:
        return "none"

    def one(deg: float) -> str:
        return f"{abs(deg):.1f} to {'stbd' if deg > 0.0 else 'port'}"

    return one(low) if abs(high - low) < 0.1 else f"{one(low)} / {one(high)}"


def change_words(leg: WatchLeg, following: WatchLeg | None, natural_s: float) -> str:
    """What changes at the end of the leg, and why."""
    if following is None:
        return "End of the passage: fins centred before close-quarters and going astern."
    parts = []
    if following.stay:
        parts.append("she stops")
    elif leg.courses_deg and following.courses_deg:
        before, after = leg.courses_deg[-1], following.courses_deg[0]
        turn = (after - before + 180.0) % 360.0 - 180.0
        if abs(turn) >= 1.0:
            side = "starboard" if turn > 0 else "port"
            parts.append(f"alter {abs(turn):.0f} deg to {side}, course {after:03.0f}")
    elif following.courses_deg:
        parts.append(f"course {following.courses_deg[0]:03.0f}")
    if leg.fin_use != following.fin_use:
        parts.append(f"fins {following.fin_use}")
    old, new = leg.rate_percent, following.rate_percent
    if new is not None and (old is None or abs(new - old) >= 10.0):
        parts.append(f"weighting rate {new:.0f} : angle {100.0 - new:.0f}")
    was, now = sea_kind(leg, natural_s), sea_kind(following, natural_s)
    why = f" ({waves_words(following, natural_s)})" if was != now and now != "none" else ""
    roll_a, roll_b = leg.roll_significant_deg, following.roll_significant_deg
    if roll_a is not None and roll_b is not None and abs(roll_b - roll_a) >= 0.5:
        parts.append(f"worst roll {'grows' if roll_b > roll_a else 'eases'} to {roll_b:.1f}")
    return f"Next: {'; '.join(parts) if parts else 'no change'}{why}."


def legs_name(numbers: Sequence[int]) -> str:
    """``3`` or ``3-7``."""
    return str(numbers[0]) if len(numbers) == 1 else f"{numbers[0]}-{numbers[-1]}"
