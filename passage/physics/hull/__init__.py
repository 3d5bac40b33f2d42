"""The hull itself: weights, stability and free surface; her sections and what they displace.

Takes masses and lengths; gives GM, KG and heel, sections and hydrostatics. Knows only `units`.
"""
