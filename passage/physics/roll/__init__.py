"""Roll: excitation by waves, damping, and the response with fins.

In: variances of wave slope, hull and fins. Out: roll, fin activity and heel.
Imports `waves` and `fins`.
"""
