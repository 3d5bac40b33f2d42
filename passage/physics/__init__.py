"""Pure functions on arrays: no files, no printing, no xarray; SI units and radians.

Takes numbers, gives numbers; NaN in gives NaN out. Knows only `units`.
"""
