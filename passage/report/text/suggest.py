"""A suggested route for the screen."""

from __future__ import annotations

from passage.inputs.route.positions import format_position
from passage.planning.suggest.files import Suggestion
from passage.planning.suggest.search import SearchOptions, summary
from passage.report.text.layout import Layout, paragraph, wrapped
from passage.report.text.standing import standing_lines
from passage.report.text.verdict import verdict_lines
from passage.report.text.verdict_suggest import suggest_verdict


def suggest_lines(made: Suggestion, options: SearchOptions, layout: Layout) -> list[str]:
    """Verdict, the routes held against one another, waypoints, remarks."""
    out = [made.found.route.name, ""]
    own = made.found.candidates.get("as given")
    faults = own.faults if own is not None else ()
    out += verdict_lines(suggest_verdict(made.plans, options, faults), layout)
    out.append("")
    for line in summary(made.found, made.plans, options):
        indented = line.startswith("  ")
        text = line.strip()
        out.append(wrapped(text, layout.width) if indented else paragraph(text, layout.width))
    out += ["", "Waypoints"]
    out += [
        f"  {point.name}: {format_position(point.lat_deg, point.lon_deg)}"
        for point in made.found.route.waypoints
    ]
    if not layout.quiet and made.found.notes:
        out += ["", *(wrapped(note, layout.width) for note in made.found.notes)]
    return [*out, *standing_lines(layout)]
