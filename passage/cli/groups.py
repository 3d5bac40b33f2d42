"""Titled groups of the options in every ``--help``; no imports."""

from __future__ import annotations

#: Title -> long names of the options under it, in any command. An option named nowhere
#: is shown under "Other".
GROUPS: dict[str, tuple[str, ...]] = {
    "Vessel and sea": (
        "vessel", "forecast", "sea", "plan", "map", "nearest-sea-cell", "single-time",
        "harbour", "harbour-sea", "route", "area", "record", "cleaned",
    ),
    "Time and speed": (
        "departure", "start", "from", "to", "every", "zone", "speed", "by-leg", "hold",
        "arrive", "arrive-by", "daylight", "ease", "same-side",
    ),
    "Fins, heel and tanks": (
        "fins", "heel", "moves", "tank", "list", "ballast", "no-transfer", "transfer-every",
        "no-ballast", "alongside", "weighting",
    ),
    "Where the route may go": (
        "corridor", "box", "land-margin", "no-go", "least-depth", "cell", "longest", "allow-land",
    ),
    "Comfort, odds and money": (
        "for", "comfort", "budget", "roll-limit", "odds", "draws", "heel-worth", "roll-worth",
        "fuel-price", "crew-cost", "passages", "ballast-cost", "ballast-years",
    ),
    "Method": (
        "minutes", "waves", "responses", "seconds", "exact", "processes", "scheduler", "memory",
        "dry-run",
    ),
    "Answer": (
        "choose", "write-route", "format", "json", "wide", "quiet", "verbose", "output", "force",
        "open", "plot", "strict", "fail-on-limit", "ask", "short", "schema",
    ),
}  # fmt: skip
