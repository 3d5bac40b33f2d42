"""The sea at a point: dispersion and encounter, spectra, and tables of what is linear in them.

In: heights, periods, directions and speeds. Out: variances and mean forces.
Imports only `units` and single modules of `physics`.
"""
