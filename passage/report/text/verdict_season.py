"""The verdict of a season: the month and route within the limits most often, and how often."""

from __future__ import annotations

from typing import Any

from passage.planning.season.season import SeasonResult
from passage.planning.season.stats import PERCENTILES
from passage.planning.voyage.limits import LIMIT_WORDS
from passage.report.drawing.blocks import Figure
from passage.report.text.season_rank import (
    between_text,
    enough,
    legs_of,
    mark_of,
    percent_text,
    rest_only_text,
    where_text,
)
from passage.report.text.verdict import (
    NO_LIMIT,
    NO_LIMIT_WORD,
    Verdict,
    listed,
    number,
    route_words,
)

_MONTHS = (
    "the year", "January", "February", "March", "April", "May", "June", "July", "August",
    "September", "October", "November", "December",
)  # fmt: skip
#: Months within this many points of the best count as good as it. [%]
_AS_GOOD = 5.0
#: Share from which a month counts as good. [%]
GOOD_PERCENT = 75.0


def best_of(result: SeasonResult) -> dict[str, Any] | None:
    """The advised record: of those nearly as good as the best, the one of least fuel."""
    if not result.provenance.get("limits_set", True):
        years = [r for r in result.records if r["month"] == 0 and r["covered"]]
        return min(years, key=lambda r: _median(r, "fuel_l"), default=None)
    months = _judged(result)
    if not months:
        return None
    # A month of few departures or spells is named only where there is no other.
    sure = enough(months)
    top = max(float(r["within_limits_percent"]) for r in sure)
    as_good = [r for r in sure if r["within_limits_percent"] >= top - _AS_GOOD]
    return min(as_good, key=lambda r: (_median(r, "fuel_l"), -r["within_limits_percent"]))


def _judged(result: SeasonResult) -> list[dict[str, Any]]:
    return [r for r in result.records if r["month"] and r["within_limits_percent"] is not None]


def season_verdict(result: SeasonResult) -> Verdict:
    """The month and route with the most departures within limits, and the price."""
    months = _judged(result)
    if not result.provenance.get("limits_set", True):
        return _without_limits(result)
    best = best_of(result)
    if best is None:
        return Verdict(
            "unknown",
            "No verdict: no departure could be judged against the owner's limits.",
            "Either the data cover none from end to end, or no limit is set for what this "
            "passage does.",
            word="Nothing judged",
        )
    mine = [r for r in months if _same(r, best)]
    share = float(best["within_limits_percent"])
    counted = enough(mine)
    others = [
        r for r in counted
        if r is not best and r["within_limits_percent"] >= max(share - _AS_GOOD, 1.0)
    ]  # fmt: skip
    worst = min(counted, key=lambda r: r["within_limits_percent"])
    who = f"{route_words(best['route'])} at {best['speed_kn']:g} kn"
    if share <= 0.0:
        do = "No month of these data has a departure that stays within the owner's limits."
    else:
        do = (
            f"Go in {_MONTHS[best['month']]}, {who}: {_percent(best)} of departures stay within "
            f"the owner's limits{between_text(best)}, for {number(_median(best, 'fuel_l'))} l."
        )
    reasons = []
    if others:
        # The month is chosen by fuel among nearly equal ones, so others may have larger shares.
        better = [r for r in others if r["within_limits_percent"] > share]
        rest = [r for r in others if r["within_limits_percent"] <= share]
        for some, word in ((better, "a little better, for more fuel"), (rest, "nearly as good")):
            if some:
                names = listed([_MONTHS[r["month"]] for r in some])
                span = _span(some)
                verb = "is" if len(some) == 1 else "are"
                reasons.append(f"{names} {verb} {word}: {span}.")
    if worst["month"] != best["month"]:
        reasons.append(f"The worst month is {_MONTHS[worst['month']]}, {_percent(worst)}.")
    apart = [r for r in mine if r not in counted]
    if apart:
        names = listed([f"{_MONTHS[r['month']]} {_percent(r)}" for r in apart])
        reasons.append(f"Of too few departures to count: {names}.")
    closes = _closes(result, best if worst["month"] == best["month"] else worst)
    if closes:
        reasons.append(closes)
    doubt = ""
    if best["few"]:
        counts = [
            _many(best[key], word) for key, word in (("judged", "departure"), ("spells", "spell"))
        ]
        doubt = (
            f"Behind that month {'is' if best['judged'] == 1 else 'are'} only {counts[0]} in "
            f"{counts[1]} of weather: too few for odds. "
        )
    doubt += "A hindcast chooses the season, a forecast the day."
    state = "unknown" if best["few"] else "within" if share >= GOOD_PERCENT else "over"
    return Verdict(
        state, do, " ".join(reasons), _price(result, best, others), _figures(result, best),
        word=f"{_percent(best)} within limits", doubt=doubt,
    )  # fmt: skip


def _many(count: int, word: str) -> str:
    """``1 departure``, ``2 departures``."""
    return f"{count} {word}{'s' * (count != 1)}"


def _closes(result: SeasonResult, record: dict[str, Any]) -> str:
    """The limit that rules out most departures of a month, and where."""
    shares = record["closed_percent"]
    key = max(shares, key=lambda one: shares[one], default=None)
    if key is None or shares[key] < 1.0:
        return ""
    where = where_text(record, key, legs_of(result, record))
    if where:
        where = f"{': ' if '; ' in where or ' %' in where else ', '}{where}"
    return (
        f"In {_MONTHS[record['month']]} {LIMIT_WORDS[key]} rules out "
        f"{percent_text(shares[key], record['few'])} of departures{where}. "
        f"{rest_only_text(record)}"
    ).strip()


def _without_limits(result: SeasonResult) -> Verdict:
    """Fuel and roll of the whole period for each route and speed; nothing is judged."""
    years = [r for r in result.records if r["month"] == 0 and r["covered"]]
    if not years:
        do = f"{NO_LIMIT} The data cover no departure from end to end."
        return Verdict("unknown", do, word=NO_LIMIT_WORD)
    best = best_of(result) or years[0]
    key = "worst_window_roll_significant_deg"
    calm = min(years, key=lambda r: _median(r, key))

    def worth(record: dict[str, Any]) -> str:
        roll = _median(record, key)
        return (
            f"route {record['route']} at {record['speed_kn']:g} kn takes "
            f"{number(_median(record, 'fuel_l'))} l and rolls {number(roll, 1)} deg in its worst "
            "hour"
        )

    do = f"{NO_LIMIT} By the medians of the whole period {worth(best)}, the least fuel."
    why = "" if _same(calm, best) else f"The least roll: {worth(calm)}."
    months = [r for r in result.records if r["month"] and r["covered"] and _same(r, best)]
    price = ""
    if len(months) > 1:
        low, high = (pick(months, key=lambda r: _median(r, key)) for pick in (min, max))
        price = (
            f"By that route she rolls least in {_MONTHS[low['month']]}, "
            f"{number(_median(low, key), 1)} deg, and most in {_MONTHS[high['month']]}, "
            f"{number(_median(high, key), 1)} deg."
        )
    sick = _median(best, "worst_leg_motion_sickness_percent")
    figures = (
        Figure("Departures", number(best["covered"]), "", "covered by the data"),
        Figure("Fuel, median", number(_median(best, "fuel_l")), "l"),
        Figure("Time, median", number(_median(best, "hours"), 1), "h"),
        Figure("Worst hour's roll, median", number(_median(best, key), 1), "deg"),
        Figure("Sickness, median", number(sick), "%", "worst place and leg"),
    )
    return Verdict("unknown", do, why, price, figures, NO_LIMIT_WORD)


def _same(one: dict[str, Any], other: dict[str, Any]) -> bool:
    return bool(one["route"] == other["route"] and one["speed_kn"] == other["speed_kn"])


def _percent(record: dict[str, Any]) -> str:
    """Its share within limits, marked where of few."""
    return percent_text(record["within_limits_percent"], record["few"])


def _span(records: list[dict[str, Any]]) -> str:
    shares = [float(r["within_limits_percent"]) for r in records]
    low, high = number(min(shares)), number(max(shares))
    most = percent_text(max(shares), any(r["few"] for r in records))
    return most if low == high else f"{low} to {most}"


def _median(record: dict[str, Any], name: str) -> float:
    values = record[name]
    value = None if values is None else values[PERCENTILES.index(50)]
    return float("nan") if value is None else float(value)


def _price(result: SeasonResult, best: dict[str, Any], others: list[dict[str, Any]]) -> str:
    """What it costs to do otherwise; her fuel where there is nothing to choose."""
    other = _other(result, best)
    surest = max(others, key=lambda r: float(r["within_limits_percent"]), default=best)
    more = _median(surest, "fuel_l") - _median(best, "fuel_l")
    if surest["within_limits_percent"] > best["within_limits_percent"] and more > 0.0:
        month = f"{_MONTHS[surest['month']]}, the surest, takes {number(more)} l more."
        return f"{month} {other}".strip()
    if other or best["fuel_l"] is None:
        return other
    if best["few"]:
        return f"The passage takes {number(_median(best, 'fuel_l'))} l."
    most = best["fuel_l"][PERCENTILES.index(90)]
    return f"Nine passages of ten take {number(most)} l or less."


def _other(result: SeasonResult, best: dict[str, Any]) -> str:
    """The best other route or speed in the same month, and what it costs."""
    rest = [
        r for r in result.records
        if r["month"] == best["month"] and not _same(r, best)
        and r["within_limits_percent"] is not None
    ]  # fmt: skip
    if not rest:
        return ""
    one = max(enough(rest), key=lambda r: (r["within_limits_percent"], -_median(r, "fuel_l")))
    fuel = _median(one, "fuel_l") - _median(best, "fuel_l")
    how = [
        f"by {one['route']}" if one["route"] != best["route"] else "",
        f"at {one['speed_kn']:g} kn" if one["speed_kn"] != best["speed_kn"] else "",
    ]
    words = " ".join(part for part in how if part)
    text = f"{words[0].upper()}{words[1:]}, {_MONTHS[best['month']]} gives {_percent(one)}"
    if fuel == fuel:
        text += f" for {number(abs(fuel))} l {'more' if fuel > 0 else 'less'}"
    return f"{text}."


def _figures(result: SeasonResult, best: dict[str, Any]) -> tuple[Figure, ...]:
    year = next((r for r in result.records if r["month"] == 0 and _same(r, best)), best)
    wait = best["longest_wait_h"]
    roll = _median(best, "worst_window_roll_significant_deg")
    return (
        Figure(f"Within limits, {_MONTHS[best['month']]}",
               number(best["within_limits_percent"]), "%",
               f"of {_many(best['judged'], 'departure')} in {_many(best['spells'], 'spell')} of "
               f"weather{mark_of(best['few'])}"),
        Figure("Whole period", number(year["within_limits_percent"]), "%",
               f"of {_many(year['judged'], 'departure')}{mark_of(year['few'])}"),
        Figure("Longest wait", "-" if wait is None else number(wait), "h",
               "or more: the data end" if best["longest_wait_open"] else "for one within limits"),
        Figure("Fuel, median", number(_median(best, "fuel_l")), "l"),
        Figure("Worst hour's roll, median", number(roll, 1), "deg"),
    )  # fmt: skip
