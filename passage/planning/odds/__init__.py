"""How likely a passage keeps its limits: errors of a forecast drawn, and draws counted.

In: a forecast and an error model, or values by member; out: drawn conditions, odds, percentiles.
"""
