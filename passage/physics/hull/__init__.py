"""The hull itself: weights, stability and free surface.

Takes masses and lengths; gives GM, KG and heel. Knows only `units`.
"""
