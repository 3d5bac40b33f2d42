"""Planning one passage: legs, totals, cautions, provenance.

In: the points of `voyage`. Out: a `PlannedPassage`. Imports `voyage`, `odds` and `record`.
"""
