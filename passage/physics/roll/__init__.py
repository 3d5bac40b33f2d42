"""Roll of the ship: what the waves excite, what damps it, and the answer with fins.

Takes variances of wave slope, the hull and the fins; gives roll, fin use and heel.
Builds on `waves` and `fins`.
"""
