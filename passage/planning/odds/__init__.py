"""How likely a passage is to keep its limits: forecast errors are drawn, and draws counted.

In: a forecast and an error model, or values by member; out: drawn conditions, odds, percentiles.
"""
