"""One passage planned: legs, totals, cautions, provenance.

Takes the points of a voyage; gives a `PlannedPassage`. Builds on `voyage`.
"""
