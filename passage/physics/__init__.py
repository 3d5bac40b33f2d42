"""Pure functions on arrays: no files, no printing, no xarray; SI units and radians.

NaN in gives NaN out. Imports only `units` and `sources`.
"""
