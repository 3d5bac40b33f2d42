"""One-line meanings of table headings, shown on hover where a column has none of its own."""

from __future__ import annotations

import re

#: Meaning by heading; docs/glossary.md has the longer list.
MEANINGS: dict[str, str] = {
    "UTC": "time, UTC",
    "after": "after the transfer",
    "allowed": "whether it keeps every limit and constraint",
    "arrives": "time of arrival, UTC",
    "as advised": "by the advice of this page",
    "as given": "by the route given",
    "at the limit": "share of time the fins are out of angle, or turn as fast as they can",
    "at limit with all": "time the fins are at a limit while they hold all of the list",
    "at limit with none": "time the fins are at a limit while they hold none of it",
    "ballast and pumping, fuel": "what carrying the ballast and running the pump burn",
    "best trade-off": "none that may be chosen takes less fuel and is more comfortable at once",
    "crew": "time of the crew, priced in litres",
    "departure, UTC": "time of leaving, UTC",
    "departures": "departures computed",
    "encounter period": "time from one wave to the next as she meets them",
    "fin angle rms": "rms of the fin angle about its mean",
    "fins": "use of the fins",
    "fins active": "with the fins working against roll",
    "fins and heel, fuel": "what the fins' work, their offset and the heel left burn",
    "fins centred": "with the fins held still at zero",
    "fins offset": "drag of the fins for the angle that holds the list",
    "from, UTC": "time the leg begins, UTC",
    "fuel": "fuel of the passage, all users",
    "great circle": "by the shortest way",
    "high": "high end of the likely range",
    "hotel": "fuel of the house: generators and services",
    "kn": "speed through the water",
    "leaves": "time of leaving, UTC",
    "left for roll": "share of the fins' angle left for work against roll",
    "leg": "number of the leg",
    "list": "steady lean from loading; positive to starboard",
    "low": "low end of the likely range",
    "month": "month of leaving",
    "moved": "liquid moved",
    "name": "name of the card above that it belongs to",
    "natural roll period": "period at which she rolls by herself",
    "no.": "row of the table of combinations",
    "offset": "mean fin angle that holds a list; positive pushes to starboard",
    "offset used": "mean fin angle that holds the list",
    "option": "departure, speed and use of the fins",
    "policy": "a way of dealing with the list on the whole passage",
    "price": "all of it, in litres or money",
    "route": "route, and speed where several are compared",
    "sea, highest": "largest significant height in the area of the map",
    "speed": "speed through the water",
    "state": "chosen, allowed, or what rules it out",
    "still water": "fuel of the hull alone at this speed",
    "suggested": "by the route found",
    "swell 1": "significant height of the first swell",
    "swell 2": "significant height of the second swell",
    "tank, m3": "volume in the tank",
    "time": "time, UTC",
    "total": "fuel and what it costs besides, in litres",
    "uncorrected": "heel if nothing is done",
    "waves": "fuel that the waves add",
    "waypoint": "name or number of the waypoint",
    "whole sea": "significant height of sea and swell together",
    "wind": "true wind, or the fuel it adds",
    "wind sea": "significant height of the waves raised by the wind here and now",
    "worst roll": "largest significant roll of any hour; of any point where named so",
}
#: Meanings of labels beside a value, on cards and in tables with named rows.
LABELS: dict[str, str] = {
    "at anchor": "worst steady heel at anchor, and its side",
    "crew": "hours of the crew at valves and soundings",
    "distance": "distance over the ground",
    "fuel": "fuel of the passage, all users",
    "heel left to port": "largest steady heel to port that is left",
    "heel left to starboard": "largest steady heel to starboard that is left",
    "least GM": "smallest GM on the way, free surface taken off",
    "litres": "fuel burnt, and crew's time and comfort at their worth in fuel",
    "other litres": "fuel of pumps, and crew's time and comfort at their worth in fuel",
    "longest wait": "longest that one would have waited for a departure within the limits",
    "money": "the litres at the price of fuel",
    "odds": "how often all limits are kept when the forecast errs as usual",
    "on leg": "leg with the worst heel",
    "over either limit": "hours over the owner's limit of heel, under way or at anchor",
    "over the limit": "hours over the owner's limit of steady heel",
    "price": "fuel in money",
    "extra roll": "more significant roll, for the angle of the fins that the heel takes",
    "sickness": "of people new to the sea, at the worst place and time",
    "time": "hours from leaving to arriving",
    "time lost": "later, or fewer miles, at the same fuel",
    "trim": "change since departure",
    "under way": "worst steady heel under way, and its side",
    "within limits": "departures that keep every limit of the vessel file",
    "worst hour": "when the heel is largest",
    "worst roll": "largest significant roll of any hour, fins as used",
    "worst roll, any point": "largest significant roll anywhere on the way, fins as used",
}
_PATTERNS: tuple[tuple[re.Pattern[str], str], ...] = (
    (re.compile(r"^(\d+) %$"), r"\1 of 100 departures stay below this"),
    (re.compile(r"^list [-\d.]+( deg)?$"), "at this list"),
    (re.compile(r"^[\d.]+ kn$"), "at this speed through the water"),
    (re.compile(r"^before leg (\d+)$"), r"volume in the tank before leg \1"),
)


def meaning_of(heading: str) -> str:
    """Meaning of a heading in one line; empty where it is a user's own name.

    Of ``name: heading``, as in columns by route, the part after the name counts.
    """
    if heading in MEANINGS:
        return MEANINGS[heading]
    for pattern, words in _PATTERNS:
        found = pattern.match(heading)
        if found:
            return found.expand(words)
    name, colon, rest = heading.rpartition(": ")
    if colon and rest in MEANINGS:
        return f"{name}: {MEANINGS[rest]}"
    return ""


def label_meaning(label: str) -> str:
    """Meaning of a label in one line; empty where it needs none.

    The part of a label from ", limit" on is ignored.
    """
    return LABELS.get(label, LABELS.get(label.partition(", limit")[0], ""))
